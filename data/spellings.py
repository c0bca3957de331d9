"""How people spell units, in a column's name or in a row of units below it."""

from __future__ import annotations

import re

ACCELERATION = {
    "g": ("g", "gn", "gravity"),
    "mg": ("mg", "milli-g", "millig"),
    "m/s2": ("m/s2", "m/s^2", "m/s²", "m/s/s", "m/s**2", "ms-2", "m.s-2", "m s-2", "ms^-2", "m s^-2", "mps2", "ms2"),
    "counts": ("counts", "count"),
    "volts": ("v", "volt", "volts"),
}
TIME = {
    "s": ("s", "sec", "secs", "second", "seconds"),
    "ms": ("ms", "msec", "millis", "milliseconds", "millisecond"),
    "ns": ("ns", "nsec", "nanos", "nanoseconds", "nanosecond"),
    "us": ("us", "µs", "μs", "usec", "micros", "microseconds", "microsecond"),
    "iso": ("iso", "iso8601", "utc"),
    "ticks": ("ticks", "tick"),
}

_BRACKET = re.compile(r"^(.*?)[\s_]*[\[(]\s*([^\])]*?)\s*[\])]\s*$")


def named_unit(name: str, units: dict[str, tuple[str, ...]]) -> tuple[str, str]:
    """A column's name without its unit, and the unit; empty where it names none.

    The unit stands in brackets, or is the last of the words that spaces or underscores part.
    """
    found = _BRACKET.match(name)
    if found:
        return found[1].strip(), unit_spelt(found[2], units)
    words = re.split(r"[\s_]+", name.strip())
    for count in (2, 1):
        if len(words) > count and unit_spelt(" ".join(words[-count:]), units):
            return "_".join(words[:-count]), unit_spelt(" ".join(words[-count:]), units)
    return name.strip(), ""


def unit_spelt(text: str, units: dict[str, tuple[str, ...]]) -> str:
    """The unit that a word, in brackets or not, stands for; empty where it is none of them."""
    plain = text.strip().strip("[]()").strip().lower()
    return next((unit for unit, spellings in units.items() if plain in spellings), "")


def is_row_of_units(cells: tuple[str, ...]) -> bool:
    """Whether a row below a header holds units and nothing else."""
    said = [cell for cell in cells if cell.strip(" -[]()")]
    known = [cell for cell in said if unit_spelt(cell, ACCELERATION) or unit_spelt(cell, TIME)]
    return len(known) >= 2 and len(known) >= 0.5 * len(said)
