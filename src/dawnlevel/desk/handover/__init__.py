"""What is left with the tank's owner: sheets, dates, whose a tank is."""
