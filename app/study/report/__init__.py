"""What leaves the study for other people: the hand-over to firmware."""
