"""A device that sleeps until its part's interrupt."""
