"""Opening, saving, recovering, and recordings that moved."""
