"""On which line of a JSON text a value stands: only wanted when something is wrong with it."""

from __future__ import annotations

import json
import re
from json.decoder import scanstring  # type: ignore[attr-defined]

from data.plain import Where

_SPACE = re.compile(r"[ \t\r\n]*")
_DECODER = json.JSONDecoder()


def line_of(text: str, where: Where) -> int:
    """The line of the value at `where`, or of the innermost thing around it that exists. `text` must be valid JSON."""
    at = _skip(text, 0)
    for part in where:
        inner = _inside(text, at, part)
        if inner is None:
            break
        at = inner
    return text.count("\n", 0, at) + 1


def _skip(text: str, at: int) -> int:
    found = _SPACE.match(text, at)
    return found.end() if found else at


def _inside(text: str, at: int, part: str | int) -> int | None:
    """Where the named or numbered value begins in the table or list that begins at `at`."""
    opening = text[at : at + 1]
    if opening not in ("{", "["):
        return None
    at = _skip(text, at + 1)
    count = 0
    while text[at] not in "}]":
        key: str | int = count
        if opening == "{":
            key, at = scanstring(text, at + 1, True)
            at = _skip(text, _skip(text, at) + 1)
        if key == part:
            return at
        _, at = _DECODER.raw_decode(text, at)
        at = _skip(text, at)
        if text[at] == ",":
            at = _skip(text, at + 1)
        count += 1
    return None
