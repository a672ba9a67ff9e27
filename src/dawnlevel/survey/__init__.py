"""Is the CO2 even across the tank? Maps, evenness, dead zones, exchange, and where to read next. Pure."""
