"""What a setting is called where its group doesn't stand above it: "still below", "impact at least"."""

from __future__ import annotations

from app.words import with_unit
from detect.settings import BY_KEY, Unit, Value

_VAGUE = ("below", "for at least", "at least", "within", "rule", "band", "window", "share")
"""Titles that say nothing without what they belong to."""


def spoken(key: str) -> str:
    title = BY_KEY[key].title
    if title not in _VAGUE:
        return title[0].lower() + title[1:]
    return f"{'free fall' if key.startswith('free_fall') else key.partition('_')[0]} {title}"


def value_spoken(key: str, value: Value) -> str:
    """With its unit; a switch is on or off."""
    if isinstance(value, bool):
        return "on" if value else "off"
    unit = BY_KEY[key].unit
    if isinstance(value, int | float) and unit not in (Unit.CHOICE, Unit.VECTOR):
        return with_unit(float(value), unit)
    if isinstance(value, tuple):
        return ", ".join(f"{part:g}" for part in value)
    return str(value).replace("_", " ")
