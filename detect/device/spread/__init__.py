"""Devices that differ from each other within their tolerances."""
