"""The sensor and the device around the rule: what a part, a supply, a bus and a memory make of it."""
