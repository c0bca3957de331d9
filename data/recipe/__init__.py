"""What an import was told about a kind of file."""
