"""The demo study's generator."""
