"""The window and the command line: they show and ask, and compute nothing."""
