"""Lines about a recording above its table: comments marked % or #, and what they say as `key: value`."""

from __future__ import annotations

import re
from collections.abc import Iterable

MARKS = "%#"
_MARKS = tuple(MARKS)
MOST_LINE = 300
"""A longer line above a table is not looked into."""

_SAID = re.compile(r"([^:=]{1,60})[:=](.{1,200})")


def is_comment(line: str) -> bool:
    return line.lstrip().startswith(_MARKS)


def uncommented(line: str) -> str:
    """What a comment says, without its mark."""
    return line.strip().lstrip(MARKS + " \t").strip()


def said_in(lines: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Keys and values of lines such as "% Subject: W01" or "Sample rate = 50 Hz"; of a key that is there twice the
    first."""
    found: dict[str, str] = {}
    for line in lines:
        match = _SAID.fullmatch(uncommented(line)) if len(line) <= MOST_LINE else None
        if match:
            key, value = (part.strip(" \t,;|\"'") for part in match.groups())
            if key and value:
                found.setdefault(key, value)
    return tuple(found.items())
