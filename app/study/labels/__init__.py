"""Labels of the open study: edited by hand, read from tables, shifted in time."""
