"""What a study's settings do to its events, ready to read: score, breakdown, comparison, map, trade-off."""
