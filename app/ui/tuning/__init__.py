"""Find settings."""
