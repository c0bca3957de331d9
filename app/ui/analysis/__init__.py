"""Side by side, comparison of A and B, map and curve."""
