"""Live capture: sources of bytes, what boards say in them, and recordings made of it. No Qt."""
