"""A pattern for file names that are built alike, with the reason for each part, for a person to confirm."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from data.recipe.name_pattern import match

PLACEMENTS = frozenset({
    "wrist", "waist", "hip", "chest", "ankle", "thigh", "pocket", "back", "head", "belt", "leg", "arm", "neck",
    "sternum", "lumbar", "shin", "foot"})
NO_FALLS = frozenset({"adl", "adls", "nonfall", "notfall", "nofall", "other", "others", "normal", "daily", "activity"})
"""Words beside "fall" that only say that it is none."""
_TRIAL = ("r", "t", "tr", "rep", "run", "trial", "take", "try", "no")
_NODE = ("n", "node", "sensor", "imu")
_PIECES = re.compile(r"([/_\-. ]+)")
_CODE = re.compile(r"([A-Za-z]*)(\d+)")

MOST_LOOKED_AT = 2000


@dataclass(frozen=True)
class PatternGuess:
    """`fits`: how many of the names it fits. `reasons`: one for each part."""

    pattern: str
    fits: int
    names: int
    reasons: tuple[str, ...]


def guess_pattern(names: Sequence[str]) -> PatternGuess | None:
    """A pattern for names that are built alike; None where nothing in them differs, or they are not.

    `names`: relative to what was dropped, with / between folders.
    """
    looked_at = list(names)[:MOST_LOOKED_AT]
    shapes = Counter(_shape(name) for name in looked_at)
    if not shapes:
        return None
    shape, times = shapes.most_common(1)[0]
    if times < 0.5 * len(looked_at) or times < 2:
        return None
    alike = [_PIECES.split(name) for name in looked_at if _shape(name) == shape]
    columns = list(zip(*alike, strict=True))
    taken: dict[str, str] = {}
    pieces = [_piece(column, at, columns, taken) for at, column in enumerate(columns)]
    if not taken:
        return None
    pattern = "".join(pieces)
    fits = sum(match(pattern, name) is not None for name in names)
    return PatternGuess(pattern, fits, len(names), tuple(taken.values()))


def _shape(name: str) -> tuple[str, ...]:
    """The separators of a name, and its suffix."""
    pieces = _PIECES.split(name)
    return (*pieces[1::2], pieces[-1].lower() if pieces[-2:-1] == ["."] else "")


def _piece(column: Sequence[str], at: int, columns: Sequence[Sequence[str]], taken: dict[str, str]) -> str:
    """One place of the names as it stands in the pattern: as it is where it never differs, else as a part."""
    values = sorted(set(column))
    if len(values) == 1:
        return values[0]
    prefix = _common_letters(values)
    part = _role(values, prefix, at, columns, taken)
    if part is None:
        return "*"
    some = ", ".join(values[:3]) + (", …" if len(values) > 3 else "")
    taken[part] = f"{part}: {len(values)} values, {some}"
    return f"{prefix}{{{part}}}"


def _common_letters(values: Sequence[str]) -> str:
    """The letters that all codes begin with; empty where they are no codes or begin differently."""
    found = [_CODE.fullmatch(value) for value in values]
    letters = {one[1] for one in found if one is not None}
    return letters.pop() if len(letters) == 1 and all(found) else ""


def _role(values: Sequence[str], prefix: str, at: int, columns: Sequence[Sequence[str]],
          taken: dict[str, str]) -> str | None:
    lowered = {value.lower() for value in values}
    wishes: list[str] = []
    if lowered <= PLACEMENTS:
        wishes.append("placement")
    if prefix.lower() in _TRIAL:
        wishes.append("trial")
    if prefix.lower() in _NODE:
        wishes.append("node")
    if {"fall", "falls"} & lowered and lowered - {"fall", "falls"} <= NO_FALLS and "kind" not in taken:
        return "kind"
    codes = all(_CODE.fullmatch(value) for value in values)
    if not codes or (not prefix and any(value[0].isalpha() for value in values)):
        wishes.append("activity")  # words, or codes of several kinds such as D01 and F01
    elif prefix:
        wishes.append("person")
    else:
        last = not any(len(set(column)) > 1 for column in columns[at + 1:])
        wishes += ["trial", "person"] if last else ["person", "trial"]
    return next((wish for wish in wishes if wish not in taken), None)
