"""The Python and C twins of detector, record, log, alarm and link."""
