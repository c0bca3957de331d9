"""A study to and from the disk: its file, recovery copy, lock, and recordings that moved."""
