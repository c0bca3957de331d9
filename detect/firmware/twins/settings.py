"""Bounds of the settings as integers: the twin of plumbfall_settings.c."""

from __future__ import annotations

from collections.abc import Sequence

from detect.firmware.header.fields import FIELDS, OF_KEY
from detect.firmware.header.writer import shares
from detect.rule.settings import Unit

ALL_IN_BOUNDS = 0
_AT = {field.member: at for at, field in enumerate(FIELDS)}


def first_out_of_bounds(numbers: Sequence[int]) -> int:
    """The number, from 1, of the first setting out of bounds as enum plf_setting has it; 0 where none is.

    `numbers`: an integer for each of FIELDS. First each by itself, then what must hold between them.
    """
    for at, field in enumerate(FIELDS):
        if not field.least <= numbers[at] <= field.most:
            return at + 1
    for fields in OF_KEY.values():
        first = _AT[fields[0].member]
        if fields[0].numbers and numbers[first] not in fields[0].numbers:
            return first + 1
        if fields[0].unit is Unit.VECTOR and not any(numbers[_AT[field.member]] for field in fields):
            return first + 1
        for some, window in shares():
            if some is fields[0] and numbers[first] > numbers[_AT[window.member]]:
                return first + 1
    return ALL_IN_BOUNDS if _low_below_impact(numbers) else _AT["free_fall_counts"] + 1


def _low_below_impact(numbers: Sequence[int]) -> bool:
    on, every_axis, low, impact = (numbers[_AT[member]] for member in (
        "free_fall_on", "free_fall_every_axis", "free_fall_counts", "impact_counts"))
    if not on:
        return True
    return 3 * (low - 1) ** 2 < impact ** 2 if every_axis else low <= impact
