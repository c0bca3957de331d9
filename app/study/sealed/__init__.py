"""The sealed set: people nobody tunes on, and the counted openings."""
