"""Numbers of the device: what each is, where its starting value comes from, and the ones a person changed."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

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


def switch(key: str, default: bool, title: str, sentence: str, origin: str) -> Quantity:
    """A row that is on or off."""
    return Quantity(key, "", default, 0, 1, title, sentence, origin)


def choice(key: str, choices: tuple[str, ...], default: str, title: str, sentence: str, origin: str,
           read_as: tuple[str, ...] = ()) -> Quantity:
    """A row that is one of a few words."""
    return Quantity(key, "", default, 0, len(choices) - 1, title, sentence, origin, choices, read_as)


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
