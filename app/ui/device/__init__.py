"""The sensor and the device around the rule, one file a topic."""
