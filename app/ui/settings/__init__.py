"""The settings panel."""
