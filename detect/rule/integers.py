"""Between a setting's physical value and the integers that stand for it in the rule.

The rule's integers: what the settings become on one front end, and the bounds its arithmetic needs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from functools import lru_cache, partial
from types import MappingProxyType
from typing import Any

from detect.rule.front_end import FrontEnd
from detect.rule.parameter_row import COSINE_ONE, LARGEST_THRESHOLD, Integer
from detect.rule.settings import BY_KEY, PARAMETERS, BadSetting, Parameter, Settings, Unit

__all__ = ["BOUNDS", "COSINE_ONE", "FIELD", "LARGEST_THRESHOLD", "Rule", "becomes", "cosine", "integer_of",
           "integers_of", "low_stays_below_impact", "physical", "rule_of", "slider_range", "value_of"]


@dataclass(frozen=True)
class Rule:
    """Settings as integers: thresholds in counts, durations in samples. Beside them their letters in DEVELOPERS.md."""

    # generated from detect/rule/parameters.py: begin
    prefilter: int  # L
    free_fall_on: bool
    every_axis: bool
    free_fall: int  # F
    free_fall_run: int  # Nf
    impact: int  # I
    impact_within: int  # W
    settle: int  # S
    restart_on: bool
    observe: int  # N
    tilt_on: bool
    tilt_cosine: int  # C(θ)
    baseline: int  # B
    reclined_on: bool
    reclined_cosine: int  # C(φ)
    upright: tuple[int, int, int]  # u
    still_on: bool
    still: int  # r
    guard: int  # G
    active_on: bool
    active_low: int  # lo
    active_high: int  # hi
    active_window: int  # M
    active_most: int  # m
    hold_off: int  # H
    # generated from detect/rule/parameters.py: end

    @property
    def observes(self) -> bool:
        """Without a check that needs it, nothing is observed."""
        return self.tilt_on or self.reclined_on or self.still_on


_OF_FIELD: Mapping[str, tuple[Parameter, Integer]] = MappingProxyType({
    one.field: (row, one) for row in PARAMETERS for one in row.integers})

if [one.name for one in fields(Rule)] != list(_OF_FIELD):
    _differ = ", ".join(sorted({one.name for one in fields(Rule)} ^ set(_OF_FIELD))) or "their order"
    raise ImportError(f"Rule and the table in detect/rule/parameters.py differ in {_differ}. "
                      "Run python -m detect.firmware.header.generated.")

BOUNDS: tuple[tuple[str, str, int, int], ...] = tuple(
    (one.field, row.key, one.least, one.most) for row in PARAMETERS if row.is_number for one in row.integers)
"""Of every setting that is a number: field of Rule, the setting it comes from, least and most."""

FIELD: Mapping[str, str] = MappingProxyType({key: field for field, key, _, _ in BOUNDS})
"""The rule's field of every setting that is a number; of the band, which has two, the upper end."""

_WITHIN = tuple((row, {Unit.DEGREE: 180, Unit.PERCENT: 100}[row.unit]) for row in PARAMETERS
                if row.unit in (Unit.DEGREE, Unit.PERCENT))
"""Settings whose values lie between 0 and this, whatever integer they would become."""


def cosine(degrees: float) -> int:
    """cos in the rule's fixed point."""
    return math.floor(math.cos(math.radians(degrees)) * COSINE_ONE + 0.5)


Conversion = Callable[[float, FrontEnd, int], int]


def _conversion(row: Parameter, one: Integer) -> Conversion:
    """From a number, or a component of a vector, to one of its integers; the last argument is what a share is of."""
    offset, factor, least = one.offset, one.factor, one.least
    if row.unit is Unit.MS:
        return lambda value, front_end, whole: front_end.samples(value)
    if row.unit is Unit.DEGREE:
        return lambda value, front_end, whole: cosine(value)
    if row.unit is Unit.PERCENT:
        return lambda value, front_end, whole: math.floor(value * whole / 100 + 0.5)
    if row.unit is Unit.VECTOR:
        return lambda value, front_end, whole: front_end.clamped_counts(value)
    if factor < 0:
        return lambda value, front_end, whole: max(front_end.counts(offset + factor * value), least)
    return lambda value, front_end, whole: front_end.counts(offset + factor * value)


_CONVERSIONS: Mapping[Integer, Conversion] = MappingProxyType({
    one: _conversion(row, one) for row in PARAMETERS if row.is_number or row.unit is Unit.VECTOR
    for one in row.integers})


def becomes(one: Integer, value: float, front_end: FrontEnd, whole: int) -> int:
    """One of the integers of a number, or of a component of a vector; a share is one of `whole` samples."""
    return _CONVERSIONS[one](value, front_end, whole)


def physical(row: Parameter, one: Integer, integer: int, front_end: FrontEnd, whole: int) -> float:
    """What an integer stands for, in the unit of its setting; a share is one of `whole` samples."""
    if row.unit is Unit.MS:
        return front_end.ms(integer)
    if row.unit is Unit.DEGREE:
        return math.degrees(math.acos(integer / COSINE_ONE))
    if row.unit is Unit.PERCENT:
        return 100 * integer / whole
    return (front_end.g(integer) - one.offset) * one.factor + 0.0  # never -0.0


Making = Callable[[Any, Settings, FrontEnd], object]


def _making(row: Parameter) -> tuple[Making, ...]:
    """From the value of a setting to each field of Rule that it has."""
    if row.unit is Unit.SWITCH:
        return (lambda value, settings, front_end: value,)
    if row.unit is Unit.CHOICE:
        integers = {choice: row.integer_of_choice(choice) for choice in row.choices}
        made = {choice: bool(integer) if row.is_flag else integer for choice, integer in integers.items()}
        return (lambda value, settings, front_end: made[value],)
    conversions = [_CONVERSIONS[one] for one in row.integers]
    if row.unit is Unit.VECTOR:
        return (lambda value, settings, front_end: tuple(
            [convert(part, front_end, 0) for convert, part in zip(conversions, value, strict=True)]),)
    if row.unit is Unit.PERCENT:
        return tuple(partial(_share, convert, row.share_of) for convert in conversions)
    return tuple(partial(_number, convert) for convert in conversions)


def _number(convert: Conversion, value: float, settings: Settings, front_end: FrontEnd) -> int:
    return convert(value, front_end, 0)


def _share(convert: Conversion, of: str, value: float, settings: Settings, front_end: FrontEnd) -> int:
    return convert(value, front_end, front_end.samples(settings.number(of)))


_MAKINGS = tuple((place, make) for place, row in enumerate(PARAMETERS) for make in _making(row))
"""In the order of Rule's fields, which is the table's; `place` of the setting in the table."""


@lru_cache(maxsize=256)  # one move of a slider asks for the same settings again and again
def rule_of(settings: Settings, front_end: FrontEnd) -> Rule:
    """The integers of these settings on this front end; BadSetting names what is out of bounds."""
    for row, most in _WITHIN:
        if not 0 <= (value := settings.number(row.key)) <= most:
            raise BadSetting(row.key, value, f"is outside 0 … {most} {row.unit.value}.", "Choose a value inside.")
    values = settings.values_in_order
    rule = Rule(*[make(values[place], settings, front_end) for place, make in _MAKINGS])  # type: ignore[arg-type]
    _check(rule, settings)
    return rule


def low_stays_below_impact(rule: Rule) -> bool:
    """No sample may be both low and an impact."""
    if not rule.free_fall_on:
        return True
    if rule.every_axis:
        return 3 * (rule.free_fall - 1) ** 2 < rule.impact ** 2
    return rule.free_fall <= rule.impact


def _check(rule: Rule, settings: Settings) -> None:
    for field, key, least, most in BOUNDS:
        integer = getattr(rule, field)
        if not least <= integer <= most:
            raise BadSetting(key, settings[key], f"becomes {integer} on this sensor, outside {least} … {most}.",
                             "Choose another value, or another range, resolution or rate.")
    for row in PARAMETERS:
        if row.unit is Unit.VECTOR:
            counts, most = getattr(rule, row.integers[0].field), row.integers[0].most
            if not any(counts) or max(abs(c) for c in counts) > most:
                raise BadSetting(row.key, settings[row.key],
                                 f"becomes {counts} counts; it must not be zero, nor beyond ±{most}.",
                                 f"{row.sentence} It is about 1 g long.")
    if not low_stays_below_impact(rule):
        raise BadSetting("free_fall_g", settings["free_fall_g"],
                         f"would let a sample be free fall and impact at once (impact_g = {settings['impact_g']}).",
                         "Lower the free-fall threshold or raise the impact's.")


def integer_of(key: str, rule: Rule) -> int:
    """The integer a number stands on."""
    return int(getattr(rule, FIELD[key]))


def integers_of(key: str, rule: Rule) -> tuple[int, ...]:
    """All integers that a setting became: of a band both ends, of a vector its components."""
    found = (getattr(rule, field) for field in dict.fromkeys(one.field for one in BY_KEY[key].integers))
    return tuple(int(part) for value in found for part in (value if isinstance(value, tuple) else (value,)))


def value_of(key: str, integer: int, front_end: FrontEnd, rule: Rule) -> float:
    """The physical value of a setting's integer, in the unit of its row; of the band's upper end its half width."""
    row, one = _OF_FIELD[FIELD[key]]
    return physical(row, one, integer, front_end, integer_of(row.share_of, rule) if row.unit is Unit.PERCENT else 0)


def slider_range(key: str, settings: Settings, front_end: FrontEnd) -> tuple[int, int]:
    """Least and greatest integer between the ends of a number's slider, within the rule's bounds."""
    row, one = _OF_FIELD[FIELD[key]]
    whole = front_end.samples(settings.number(row.share_of)) if row.unit is Unit.PERCENT else 0
    ends = [becomes(one, value, front_end, whole) for value in (row.low, row.high)]
    return max(min(ends), one.least), min(max(ends), one.most)
