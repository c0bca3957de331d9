"""The sealed set in the window."""
