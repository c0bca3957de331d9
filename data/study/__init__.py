"""The study file and the record of the sealed set."""
