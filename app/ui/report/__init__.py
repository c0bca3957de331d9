"""The report and the hand-over archive in the window."""
