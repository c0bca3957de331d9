"""Current, battery, bus, memory, the life of an alarm."""
