"""The rule: its settings, its integers and bounds, the reference, attempts and why they ended."""
