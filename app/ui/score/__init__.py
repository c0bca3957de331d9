"""The score, attempts, breakdown and history."""
