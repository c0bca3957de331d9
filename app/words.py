"""Numbers as people read them: a thin space between thousands, a true minus, the unit after a space."""

from __future__ import annotations

from detect.settings import Unit

THIN = "\u202f"
MINUS = "\u2212"
GAP = "\u00a0"
"""Between a number and its unit: they are never parted at a line's end."""

_LEAST_DECIMALS = {Unit.G: 2, Unit.MS: 0, Unit.DEGREE: 0, Unit.PERCENT: 0}
_MOST_DECIMALS = 4


def decimal(value: float, least: int = 0) -> str:
    """A number with as many decimals as it has, at least `least` and at most four."""
    text = f"{value:,.{_MOST_DECIMALS}f}"
    whole, _, part = text.partition(".")
    part = part.rstrip("0").ljust(least, "0")
    return (whole.replace(",", THIN) + ("." + part if part else "")).replace("-", MINUS)


def with_unit(value: float, unit: Unit) -> str:
    """A setting's value with its unit; ten seconds and more in seconds."""
    if unit is Unit.MS and abs(value) >= 10_000:
        return decimal(value / 1000) + GAP + "s"
    number = decimal(value, _LEAST_DECIMALS.get(unit, 0))
    return number + unit.value if unit is Unit.DEGREE else number + GAP + unit.value


def duration(seconds: float) -> str:
    """"52 s", "4 min 10 s", "6 h 12 min"."""
    if seconds < 10:
        return f"{seconds:.1f}{GAP}s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole}{GAP}s"
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes}{GAP}min" + (f" {rest}{GAP}s" if rest else "")
    hours, minutes = divmod(minutes, 60)
    return f"{hours}{GAP}h" + (f" {minutes}{GAP}min" if minutes else "")


def hours(value: float) -> str:
    return duration(value * 3600)


def plainly(text: str) -> str:
    """A number as typed, for float(): either decimal sign, any space, either minus."""
    for space in (" ", THIN, GAP, "\u2009"):
        text = text.replace(space, "")
    return text.replace(MINUS, "-").replace(",", ".")
