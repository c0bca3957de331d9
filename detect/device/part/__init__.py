"""The sensor part: what it is, what it reads, where it is mounted."""
