"""The command line, one file a command: each has `add(parsers)` and `run(options) -> int`."""
