"""What a file's name says about a recording, by a pattern such as {activity}/U{person}_R{trial}.csv.

Matched by going through the name once for each piece of the pattern: a search that tries every way to divide the name
would take for ever on some.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from functools import cache

PARTS = ("activity", "person", "trial", "node", "placement", "part")
"""What a pattern names that we have a use for; any other name becomes a property of the recording. Files that differ
only in their {part} are one recording, one after the other."""

_NAME = re.compile(r"[A-Za-z][\w -]{0,39}")
_NEARLY = 0.8
"""A name this like one of ours is taken for a slip of the hand."""

MOST_LETTERS = 4096
"""No path is longer; a key that is fits no pattern."""

MOST_PIECES = 64

_TOKEN = re.compile(r"\{([^{}]*)\}|(\*\*/?)|(\*)|([^{}*]+)|([{}])")


@dataclass(frozen=True)
class _Piece:
    """`kind`: "part", "folders" (**/), "any" (**), "within" (*) or "literal"; `text` its name or its letters."""

    kind: str
    text: str = ""


def pattern_fault(pattern: str) -> str:
    """What a pattern must be and isn't; empty where it is sound."""
    found = list(_TOKEN.finditer(pattern))
    named = [one[1] for one in found if one[0].startswith("{") and one[1] is not None]
    for name in named:
        if not _NAME.fullmatch(name):
            return ("a pattern of " + ", ".join(f"{{{part}}}" for part in PARTS) + ", {any other word} for a property, "
                    "* and **")
        if name == "setting":
            return "a pattern without {setting}, which is staged or free-living and said for all files"
        near = [] if name in PARTS else difflib.get_close_matches(name.lower(), PARTS, 1, _NEARLY)
        if near:
            return f"a pattern with {{{near[0]}}} in place of {{{name}}}, or with a property of a less similar name"
    if len(set(named)) < len(named):
        return "a pattern that names each part once"
    if any(one[5] for one in found):
        return "a pattern with each { closed by a }"
    if len(found) > MOST_PIECES:
        return f"a pattern of at most {MOST_PIECES} pieces"
    return ""


def match(pattern: str, name: str) -> dict[str, str] | None:
    """The named parts in `name` (with / between folders), None where it doesn't fit.

    * and the named parts match within one folder; ** across folders, also none. A named part is as short as it can be.
    """
    places = _places(pattern, name)
    return None if places is None else {part: name[start:end] for part, (start, end) in places.items()}


def blanked(pattern: str, name: str, part: str) -> str:
    """The name with one part left open as *: the same for all files that differ only there."""
    places = _places(pattern, name)
    if places is None or part not in places:
        return name
    start, end = places[part]
    return f"{name[:start]}*{name[end:]}"


def _places(pattern: str, name: str) -> dict[str, tuple[int, int]] | None:
    """Where each named part begins and ends."""
    pieces = _pieces(pattern)
    if len(name) > MOST_LETTERS or not _may_fit(pieces, name):
        return None
    fits = [[False] * len(name) + [True]]
    """From the last piece on: whether what is left of the pattern fits what is left of the name at each letter."""
    for piece in reversed(pieces):
        fits.append(_fits(piece, name, fits[-1]))
    fits.reverse()
    if not fits[0][0]:
        return None
    at, places = 0, {}
    for piece, after in zip(pieces, fits[1:], strict=True):
        end = _end(piece, name, at, after)
        if piece.kind == "part":
            places[piece.text] = (at, end)
        at = end
    return places


def _may_fit(pieces: tuple[_Piece, ...], name: str) -> bool:
    """A quick look: whether the literal pieces are there, one after the other."""
    at = 0
    for piece in pieces:
        if piece.kind == "literal":
            found = name.find(piece.text, at)
            if found < 0:
                return False
            at = found + len(piece.text)
    return True


def _fits(piece: _Piece, name: str, after: list[bool]) -> list[bool]:
    """At which letters this piece and all after it fit. `after`: the same of those after it."""
    size = len(name)
    if piece.kind == "literal":
        text, length = piece.text, len(piece.text)
        return [name.startswith(text, at) and after[at + length] for at in range(size + 1)]
    fits = [False] * (size + 1)
    if piece.kind == "folders":
        later = False
        for at in range(size, -1, -1):
            later = later or (at < size and name[at] == "/" and after[at + 1])
            fits[at] = after[at] or later
        return fits
    longer = False
    for at in range(size, -1, -1):
        step = at < size and (piece.kind == "any" or name[at] != "/")
        if piece.kind == "part":
            fits[at] = step and (after[at + 1] or longer)
            longer = fits[at]
        else:
            fits[at] = after[at] or (step and longer)
            longer = fits[at]
    return fits


def _end(piece: _Piece, name: str, at: int, after: list[bool]) -> int:
    """Where the piece that begins at a letter ends: as soon as what follows fits, for *, ** as late as it does."""
    if piece.kind == "literal":
        return at + len(piece.text)
    if piece.kind == "part":
        return next(end for end in range(at + 1, len(name) + 1) if after[end])
    if piece.kind == "folders":
        ends = [end for end in range(at + 1, len(name) + 1) if name[end - 1] == "/" and after[end]]
        return ends[-1] if ends else at
    last = len(name)
    if piece.kind == "within":
        slash = name.find("/", at)
        last = len(name) if slash < 0 else slash
    return next(end for end in range(last, at - 1, -1) if after[end])


@cache
def _pieces(pattern: str) -> tuple[_Piece, ...]:
    pieces = []
    for part, any_folders, within, literal, _ in _TOKEN.findall(pattern):
        if part:
            pieces.append(_Piece("part", part))
        elif any_folders:
            pieces.append(_Piece("folders" if any_folders.endswith("/") else "any"))
        elif within:
            pieces.append(_Piece("within"))
        else:
            pieces.append(_Piece("literal", literal))
    return tuple(pieces)
