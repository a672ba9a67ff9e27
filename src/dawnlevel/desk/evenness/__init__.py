"""How even the tank is: surveys, spread, layout."""
