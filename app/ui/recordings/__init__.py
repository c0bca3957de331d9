"""The recordings list and what can be done to recordings."""
