"""How big pad, tank and bed must be, over years of weather, and what to order."""
