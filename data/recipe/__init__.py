"""What an import was told about a kind of file, and what its content suggests."""
