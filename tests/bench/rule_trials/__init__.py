"""Candidates for the rule, tried before one is built in: the search of the project with one more check in it."""
