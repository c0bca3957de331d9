"""What is dropped or named, sorted out and read."""
