"""Checked reading of plain values (what JSON and TOML hold), each refusal with its place.

On which line of a JSON text a value stands: only wanted when something is wrong with it.
"""

from __future__ import annotations

import json
import math
import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from json.decoder import scanstring  # type: ignore[attr-defined]
from types import MappingProxyType
from typing import TypeGuard

from data.problem import Problem, shown

Where = tuple[str | int, ...]
"""Where a value stands: keys and list positions from the top."""

Setting = bool | int | float | str | list[float]
"""A setting as it was asked for: a switch, a number in its physical unit, a choice, a vector."""

Fail = Callable[[Where, str, str], Problem]
"""Makes the problem from place, message and remedy; the caller knows file and line."""


def where_text(where: Where) -> str:
    """("recordings", 3, "sha256") as recordings[3].sha256."""
    text = ""
    for part in where:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return text


class Fields:
    """One table of named values being taken apart; `done()` refuses what nobody asked for."""

    def __init__(self, value: object, where: Where, fail: Fail) -> None:
        if not isinstance(value, Mapping):
            raise fail(where, f"{where_text(where) or 'The file'} must be a table of named values.", "Correct it.")
        self._values = value
        self._where = where
        self._fail = fail
        self._asked: set[str] = set()

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def fault(self, key: str, must: str) -> Problem:
        """The problem that `key` must be something that it isn't."""
        where = (*self._where, key)
        value = self._values.get(key)
        found = "It is missing." if key not in self._values else f"It is {shown(repr(value))}."
        return self._fail(where, f"{where_text(where)} must be {must}.", f"{found} Correct it.")

    def raw(self, key: str, default: object = None) -> object:
        self._asked.add(key)
        return self._values.get(key, default)

    def text(self, key: str, default: str | None = "", choices: Sequence[str] = (),
             renamed: Mapping[str, str] = MappingProxyType({})) -> str:
        """A text; without a default it must be there; with choices it must be one of them, or what one of them was
        called in older files: `renamed` has old and new words."""
        value = self.raw(key, default)
        if not isinstance(value, str):
            raise self.fault(key, "a text")
        value = renamed.get(value, value)
        if choices and key in self._values and value not in choices:
            raise self.fault(key, "one of " + ", ".join(f'"{c}"' for c in choices))
        return value

    def number(self, key: str, default: float | None = None) -> float:
        """A finite number."""
        value = self.raw(key, default)
        if not is_finite(value):
            raise self.fault(key, "a number")
        return float(value)

    def maybe_number(self, key: str) -> float | None:
        """A finite number, or nothing."""
        return None if self.raw(key) is None else self.number(key)

    def whole(self, key: str, default: int | None = None) -> int:
        value = self.raw(key, default)
        if isinstance(value, bool) or not isinstance(value, int):
            raise self.fault(key, "a whole number")
        return value

    def maybe_whole(self, key: str) -> int | None:
        """A whole number, or nothing."""
        return None if self.raw(key) is None else self.whole(key)

    def flag(self, key: str, default: bool | None) -> bool | None:
        value = self.raw(key, default)
        if value is not default and not isinstance(value, bool):
            raise self.fault(key, "true or false")
        return value if isinstance(value, bool) else default

    def texts(self, key: str) -> tuple[str, ...]:
        value = self.raw(key, [])
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise self.fault(key, "a list of texts")
        if not all(isinstance(v, str) for v in value):
            raise self.fault(key, "a list of texts")
        return tuple(str(v) for v in value)

    def numbers(self, key: str) -> tuple[float, ...]:
        value = self.raw(key, [])
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise self.fault(key, "a list of numbers")
        if not all(is_finite(v) for v in value):
            raise self.fault(key, "a list of numbers")
        return tuple(float(v) for v in value)

    def setting(self, key: str) -> bool | int | float | str | list[float]:
        """A switch, a number, a text or a list of numbers, as it stands."""
        value = self.raw(key)
        if isinstance(value, bool | int | str):
            return value
        if isinstance(value, float) and math.isfinite(value):
            return value
        if isinstance(value, Sequence):
            return list(self.numbers(key))
        raise self.fault(key, "a number, true, false, a text or a list of numbers")

    def table(self, key: str) -> Fields:
        """The named table within; empty where it isn't there."""
        return Fields(self.raw(key, {}), (*self._where, key), self._fail)

    def tables(self, key: str) -> Iterator[Fields]:
        """Each table of a list of tables."""
        value = self.raw(key, [])
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise self.fault(key, "a list of tables")
        for i, item in enumerate(value):
            yield Fields(item, (*self._where, key, i), self._fail)

    def done(self) -> None:
        """Refuse keys that nobody asked for: a misspelt key must not be ignored in silence."""
        for key in self._values:
            if key not in self._asked:
                where = (*self._where, str(key))
                known = ", ".join(sorted(self._asked)) or "none"
                raise self._fail(where, f"{where_text(where)} is not known here.", f"Known: {known}.")


def is_finite(value: object) -> TypeGuard[int | float]:
    """Neither a flag, nor text, nor beyond what a float can hold."""
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= sys.float_info.max


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
