"""The import dialog: what a file leaves open is asked here."""
