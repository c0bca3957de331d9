"""Checked recordings: reading, units, calibration, quality, cache."""
