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


def value_of(key: str, integer: int, front_end: FrontEnd, rule: Rule) -> float:
    """The physical value of an integer, in the unit of its row; a share is one of the rule's busy window."""
    unit = BY_KEY[key].unit
    if unit is Unit.MS:
        return front_end.ms(integer)
    if unit is Unit.DEGREE:
        return math.degrees(math.acos(integer / COSINE_ONE))
    if unit is Unit.PERCENT:
        return 100 * integer / rule.busy_window
    if key == "busy_band_g":
        return front_end.g(integer) - 1
    return front_end.g(integer)


def slider_range(key: str, settings: Settings, front_end: FrontEnd) -> tuple[int, int]:
    """Least and greatest integer between the ends of a number's slider, within the rule's bounds."""
    row, (least, most) = BY_KEY[key], _LIMITS[FIELD[key]]
    if row.unit is Unit.MS:
        ends = [front_end.samples(row.low), front_end.samples(row.high)]
    elif row.unit is Unit.DEGREE:
        ends = [cosine(row.low), cosine(row.high)]
    elif row.unit is Unit.PERCENT:
        window = front_end.samples(settings.number("busy_window_ms"))
        ends = [math.floor(share * window / 100 + 0.5) for share in (row.low, row.high)]
    else:
        offset = 1 if key == "busy_band_g" else 0
        ends = [front_end.counts(offset + row.low), front_end.counts(offset + row.high)]
    return max(min(ends), least), min(max(ends), most)
