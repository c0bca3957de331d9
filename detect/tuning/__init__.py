"""Finding settings, and saying honestly what they are worth on people who were not looked at."""
