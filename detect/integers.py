"""Between a setting's physical value and the one integer that stands for it in the rule."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType

from detect.frontend import FrontEnd
from detect.rule import BOUNDS, COSINE_ONE, Rule, cosine
from detect.settings import BY_KEY, Settings, Unit

FIELD: Mapping[str, str] = MappingProxyType({key: field for field, key, _, _ in BOUNDS})
"""The rule's field of every setting that is a number; of the band, which has two, the upper end."""

_LIMITS = {field: (least, most) for field, _, least, most in BOUNDS}


def integer_of(key: str, rule: Rule) -> int:
    """The integer a number stands on."""
    return int(getattr(rule, FIELD[key]))


def physical(unit: Unit, integer: int, front_end: FrontEnd, busy_window: int) -> float:
    """What an integer stands for, in the unit of its setting; a share is one of the busy window's samples."""
    if unit is Unit.MS:
        return front_end.ms(integer)
    if unit is Unit.DEGREE:
        return math.degrees(math.acos(integer / COSINE_ONE))
    if unit is Unit.PERCENT:
        return 100 * integer / busy_window
    return front_end.g(integer)


def becomes(unit: Unit, value: float, front_end: FrontEnd, busy_window: int) -> int:
    """The integer of a value, as `rule_of` makes it; the other way round."""
    if unit is Unit.MS:
        return front_end.samples(value)
    if unit is Unit.DEGREE:
        return cosine(value)
    if unit is Unit.PERCENT:
        return math.floor(value * busy_window / 100 + 0.5)
    return front_end.clamped_counts(value) if unit is Unit.VECTOR else front_end.counts(value)


def value_of(key: str, integer: int, front_end: FrontEnd, rule: Rule) -> float:
    """The physical value of a setting's integer, in the unit of its row; of the band's upper end its half width."""
    value = physical(BY_KEY[key].unit, integer, front_end, rule.busy_window)
    return value - 1 if key == "busy_band_g" else value


def slider_range(key: str, settings: Settings, front_end: FrontEnd) -> tuple[int, int]:
    """Least and greatest integer between the ends of a number's slider, within the rule's bounds."""
    row, (least, most) = BY_KEY[key], _LIMITS[FIELD[key]]
    window = front_end.samples(settings.number("busy_window_ms"))
    offset = 1 if key == "busy_band_g" else 0
    ends = [becomes(row.unit, offset + value, front_end, window) for value in (row.low, row.high)]
    return max(min(ends), least), min(max(ends), most)
