"""One field for each integer of the rule as firmware knows it: header, vectors and twin are made of these.

The order is the order in the header and in the identity; the C struct `plf_settings` has the same members.
"""

from __future__ import annotations

from dataclasses import dataclass

from detect.firmware.header.generated import INTEGERS
from detect.rule.integers import Rule
from detect.rule.parameter_row import Integer, Parameter
from detect.rule.settings import Settings, Unit


@dataclass(frozen=True)
class Field:
    """An integer of the table with its row."""

    row: Parameter
    one: Integer

    @property
    def macro(self) -> str:
        """In plumbfall_params.h."""
        return self.one.macro

    @property
    def member(self) -> str:
        """Of `plf_settings`, of an array with its axis."""
        return self.one.member

    @property
    def rule(self) -> str:
        """In detect.rule.integers.Rule."""
        return self.one.field

    @property
    def key(self) -> str:
        return self.row.key

    @property
    def least(self) -> int:
        return self.one.least

    @property
    def most(self) -> int:
        return self.one.most

    @property
    def signed(self) -> bool:
        return self.one.signed

    @property
    def axis(self) -> int | None:
        return self.one.axis

    @property
    def numbers(self) -> tuple[int, ...]:
        """The only values that it has, where it is a choice among numbers; empty where it has any within its bounds."""
        return tuple(c for c in self.row.choices if isinstance(c, int)) if self.unit is Unit.CHOICE else ()

    @property
    def sentence(self) -> str:
        """What it is, in the words of the settings table."""
        return self.row.sentence

    @property
    def unit(self) -> Unit:
        return self.row.unit

    @property
    def first_of_its_setting(self) -> bool:
        """A vector has three fields, the band two."""
        return self.one is self.row.integers[0]

    @property
    def name(self) -> str:
        """The setting as the header's comments write it."""
        return self.key if self.axis is None else f"{self.key}.{'xyz'[self.axis]}"

    def integer(self, rule: Rule) -> int:
        value = getattr(rule, self.rule)
        return int(value if self.axis is None else value[self.axis])

    def requested(self, settings: Settings) -> object:
        """The value of the setting, of a vector the component."""
        value = settings[self.key]
        return value if self.axis is None or not isinstance(value, tuple) else value[self.axis]


FIELDS: tuple[Field, ...] = tuple(Field(row, one) for row, one in INTEGERS)

OF_KEY: dict[str, tuple[Field, ...]] = {
    key: tuple(field for field in FIELDS if field.key == key) for key in dict.fromkeys(field.key for field in FIELDS)}

BY_MACRO = {field.macro: field for field in FIELDS}

FIRST_NAMES = {
    "PLF_RESOLUTION_BITS": "PLF_WIDTH_BITS",
    "PLF_ACTIVE_ON": "PLF_BUSY_ON",
    "PLF_ACTIVE_LOW_COUNTS": "PLF_BUSY_LOW_COUNTS",
    "PLF_ACTIVE_HIGH_COUNTS": "PLF_BUSY_HIGH_COUNTS",
    "PLF_ACTIVE_WINDOW_SAMPLES": "PLF_BUSY_WINDOW_SAMPLES",
    "PLF_ACTIVE_MOST_SAMPLES": "PLF_BUSY_MOST_SAMPLES",
}
"""Macros that were renamed, each with the name it had first.

The text behind the identity keeps the first name for ever, so that no rename changes an identity in a log or a seal;
the reader takes a header with either.
"""


def ring_words(rule: Rule) -> int:
    """Words of 16 bits that the ring takes.

    Three for each sample of guard and baseline, one bit for each of guard and active window, each as far as its
    check is on; at least one, for C has no empty arrays.
    """
    vectors = rule.guard + rule.baseline if rule.tilt_on else 0
    bits = rule.guard + rule.active_window if rule.active_on else 0
    return max(3 * vectors + (bits + 15) // 16, 1)
