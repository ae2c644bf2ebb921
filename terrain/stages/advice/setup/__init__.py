"""Road or off-road setup, or what to ask."""
