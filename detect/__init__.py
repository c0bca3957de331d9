"""The rule and everything computed about it: numpy and scipy, no Qt, no files."""
