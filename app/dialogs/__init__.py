"""Dialogs: none of them stops the window, but for the one that asks before something would be lost."""
