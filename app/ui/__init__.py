"""The window: everything that needs Qt, one folder a topic."""
