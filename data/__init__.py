"""Recordings, labels and studies: reading, checking, saving. No Qt, and nothing of the rule."""
