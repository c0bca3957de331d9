"""Files that describe sensor parts: read and checked."""
