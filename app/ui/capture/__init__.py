"""Recording from boards in the window: source, live strips, labels."""
