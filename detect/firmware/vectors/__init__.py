"""Golden vectors: cases, and what the reference and the twins say of them."""
