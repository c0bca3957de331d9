"""Numbers of the device: what each is, where its starting value comes from, and the ones a person changed."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from detect.rule.settings import BadSetting

Plain = bool | float | str

FROM_MEMORY = "typical value, recalled, no source"
PRACTICE = "common practice, no source"


@dataclass(frozen=True)
class Quantity:
    """One row: `key` is "group.name", `unit` as people read it ("" for a pure number), `low` and `high` its bounds.

    `choices` makes it a choice of texts, as files have them; `read_as` how people read each, where that differs. A bool
    as `default` makes it a switch. `unit_of`: the key of a choice that says the unit. `origin` says where the starting
    value comes from: a published source, FROM_MEMORY or PRACTICE.
    """

    key: str
    unit: str
    default: Plain
    low: float
    high: float
    title: str
    sentence: str
    origin: str
    choices: tuple[str, ...] = ()
    read_as: tuple[str, ...] = ()
    unit_of: str = ""

    @property
    def group(self) -> str:
        return self.key.partition(".")[0]


COLUMNS = ("group", "key", "unit", "start", "least", "most", "name", "sentence", "origin")
ORIGINS = {"recalled": FROM_MEMORY, "practice": PRACTICE}
"""Written short in the table; anything else there is a source."""


@cache
def _table() -> tuple[Mapping[str, str], ...]:
    """quantities.tsv, a row a number of the device."""
    head, *lines = files("detect.device").joinpath("quantities.tsv").read_text(encoding="utf-8").splitlines()
    assert tuple(head.split("\t")) == COLUMNS
    return tuple(dict(zip(COLUMNS, line.split("\t"), strict=True)) for line in lines)


def rows_of(group: str, choices: Mapping[str, tuple[str, ...]] | None = None,
            read_as: Mapping[str, tuple[str, ...]] | None = None) -> tuple[Quantity, ...]:
    """The rows of a group of quantities.tsv, in order. `choices`: the words of each row that starts with one, which
    the code compares with; `read_as`: how people read them. A unit that is the key of a choice is what that says.
    AssertionError where a row and its words don't fit, or a bound or a text is missing."""
    rows = tuple(_row(cells, (choices or {}).get(cells["key"], ()), (read_as or {}).get(cells["key"], ()))
                 for cells in _table() if cells["group"] == group)
    assert {row.key for row in rows if row.choices} == set(choices or {}), group
    return rows


def _row(cells: Mapping[str, str], choices: tuple[str, ...], read_as: tuple[str, ...]) -> Quantity:
    start: Plain = cells["start"] if choices else json.loads(cells["start"])
    bounded = not choices and not isinstance(start, bool)
    low, high = (json.loads(cells["least"]), json.loads(cells["most"])) if bounded else (0, max(len(choices), 2) - 1)
    assert start in choices if choices else low <= start <= high, cells["key"]  # type: ignore[operator]
    assert all((cells["name"], cells["sentence"], cells["origin"])), cells["key"]
    follows = "." in cells["unit"]
    return Quantity(cells["key"], "" if follows else cells["unit"], start, low, high, cells["name"], cells["sentence"],
                    ORIGINS.get(cells["origin"], cells["origin"]), choices, read_as, cells["unit"] if follows else "")


class Values(Mapping[str, Plain]):
    """Every quantity of a table with the value in force: its start, or what a person gave. Immutable, hashable."""

    def __init__(self, table: tuple[Quantity, ...], given: Mapping[str, Plain] | None = None) -> None:
        self._rows = {row.key: row for row in table}
        self.given: dict[str, Plain] = {}
        for key, value in (given or {}).items():
            if key not in self._rows:
                raise BadSetting(key, value, "is not a number of the device.", f"Known: {', '.join(self._rows)}.")
            checked = _checked(self._rows[key], value)
            if checked != self._rows[key].default:
                self.given[key] = checked

    def __getitem__(self, key: str) -> Plain:
        return self.given[key] if key in self.given else self._rows[key].default

    def __iter__(self) -> Iterator[str]:
        return iter(self._rows)

    def __len__(self) -> int:
        return len(self._rows)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Values) and (self._rows, self.given) == (other._rows, other.given)

    def __hash__(self) -> int:
        return hash(tuple(sorted(self.given.items(), key=str)))

    def number(self, key: str) -> float:
        """The value of a row that is a number, in the row's unit."""
        value = self[key]
        assert isinstance(value, int | float), key
        return float(value)

    def text(self, key: str) -> str:
        """The value of a choice."""
        return str(self[key])

    def unit(self, key: str) -> str:
        """The unit of a row as it is now: some follow a choice."""
        row = self._rows[key]
        return self.text(row.unit_of) if row.unit_of else row.unit

    def on(self, key: str) -> bool:
        """Whether a switch is on."""
        return self[key] is True

    def with_value(self, key: str, value: object) -> Values:
        """The same but for one row; BadSetting where it is none of the table's or out of bounds."""
        return Values(tuple(self._rows.values()), {**self.given, key: value})  # type: ignore[dict-item]

    def under(self, *beginnings: str) -> dict[str, Plain]:
        """The rows whose keys begin so, with their values."""
        return {key: value for key, value in self.items() if key.startswith(beginnings)}

    def row(self, key: str) -> Quantity:
        return self._rows[key]


def _checked(row: Quantity, value: object) -> Plain:
    if isinstance(row.default, bool):
        if not isinstance(value, bool):
            raise BadSetting(row.key, value, "is neither true nor false.", "Write true or false.")
        return value
    if row.choices:
        if not isinstance(value, str) or value not in row.choices:
            raise BadSetting(row.key, value, "is not one of the choices.", f"Choose one of: {', '.join(row.choices)}.")
        return value
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= sys.float_info.max:
        raise BadSetting(row.key, value, "is not a finite number.", f"Write a number{row.unit and f' in {row.unit}'}.")
    if not row.low <= value <= row.high:
        raise BadSetting(row.key, value, f"is outside {row.low:g} … {row.high:g} {row.unit}".rstrip() + ".",
                         "Write a number within these bounds.")
    return float(value)
