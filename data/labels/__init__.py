"""Tables of labels, and labels that the signal contradicts."""
