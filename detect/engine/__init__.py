"""The same answers as the reference over a whole corpus at once."""
