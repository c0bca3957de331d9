"""Searching settings for the open study, and what a search found."""
