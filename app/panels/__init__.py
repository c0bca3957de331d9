"""One file a panel. A panel shows values and emits signals; it computes nothing and asks no other panel."""
