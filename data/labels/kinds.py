"""Which activities are falls: by a list of names, in which * stands for any letters, or by the word itself."""

from __future__ import annotations

import re
from collections.abc import Sequence

from data.recordings.model import About


def fell(about: About, name: str, falls: Sequence[str], field: str = "") -> bool:
    """Whether what happened in a recording is a fall: by what its `field` says, where that is told, else by the name of
    the activity."""
    return is_fall(about.told(field) if field else name, falls)


def is_fall(name: str, falls: Sequence[str]) -> bool:
    """By the list of falls; without one, by the word itself."""
    if falls:
        return any(fits(one, name) for one in falls)
    return re.split(r"[\s_:,.-]+", name.lower())[0] == "fall"


def fits(pattern: str, name: str) -> bool:
    """Whether a name is the pattern, with any letters for each *."""
    first, *rest = pattern.split("*")
    if not rest:
        return name == pattern
    if not name.startswith(first):
        return False
    at = len(first)
    for piece in rest[:-1]:
        found = name.find(piece, at)
        if found < 0:
            return False
        at = found + len(piece)
    return name.endswith(rest[-1]) and len(name) - len(rest[-1]) >= at
