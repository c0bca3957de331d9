"""The Device panel and its three pages."""
