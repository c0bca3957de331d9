"""Colours, style sheet, fonts and icons."""
