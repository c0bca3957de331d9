"""From the bytes of a file to columns, whatever its format."""
