"""What is dropped or named, looked at and suggested before it is read."""
