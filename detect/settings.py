"""The one table of parameters. Panel, command line, header, bounds, docs and defaults are made from it.

Adding a parameter is one row here, its integer in `detect/rule.py` and its effect in the rule.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType


class Unit(Enum):
    """What a setting is measured in; the text is the unit as people read it."""

    G = "g"
    MS = "ms"
    DEGREE = "°"
    PERCENT = "%"
    SWITCH = "on/off"
    CHOICE = "choice"
    VECTOR = "g, three axes"


Value = float | bool | str | int | tuple[float, float, float]


@dataclass(frozen=True)
class Parameter:
    """One row. `low` and `high` are the slider's ends in the row's unit, not limits of the rule:
    those are integer bounds and stand in `detect/rule.py`. `step` is a coarse, sensible step."""

    key: str
    stage: str
    unit: Unit
    low: float
    high: float
    step: float
    default: Value
    title: str
    sentence: str
    choices: tuple[Value, ...] = ()


def _number(key: str, stage: str, unit: Unit, low: float, high: float, step: float, default: float,
            title: str, sentence: str) -> Parameter:
    return Parameter(key, stage, unit, low, high, step, default, title, sentence)


def _switch(key: str, stage: str, default: bool, title: str, sentence: str) -> Parameter:
    return Parameter(key, stage, Unit.SWITCH, 0, 1, 1, default, title, sentence)


def _choice(key: str, stage: str, choices: tuple[Value, ...], default: Value, title: str,
            sentence: str) -> Parameter:
    return Parameter(key, stage, Unit.CHOICE, 0, len(choices) - 1, 1, default, title, sentence, choices)


G, MS, DEG, PCT = Unit.G, Unit.MS, Unit.DEGREE, Unit.PERCENT

# Defaults: a common starting point for a waist-worn device, from memory, tuned by nobody.
PARAMETERS: tuple[Parameter, ...] = (
    _choice("prefilter_samples", "front_end", (1, 2, 4, 8, 16), 1, "pre-filter",
            "Every sample is the mean of this many raw ones."),
    _switch("free_fall_on", "free_fall", True, "Free fall",
            "An attempt begins with free fall. Off: it begins with any impact."),
    _choice("free_fall_rule", "free_fall", ("magnitude", "every_axis"), "magnitude", "rule",
            "What must be low: the magnitude, or every axis by itself as a sensor's own free-fall line has it."),
    _number("free_fall_g", "free_fall", G, 0.05, 1.0, 0.05, 0.60, "below",
            "Lower than this, the wearer is in free fall."),
    _number("free_fall_ms", "free_fall", MS, 1, 1000, 20, 60, "for at least",
            "Low without a break for at least this long."),
    _number("impact_g", "impact", G, 1.0, 16.0, 0.25, 2.0, "at least",
            "At least this, the wearer has hit something."),
    _number("impact_within_ms", "impact", MS, 10, 5000, 100, 1000, "within",
            "The impact comes this soon after the last sample of free fall."),
    _number("settle_ms", "impact", MS, 10, 5000, 100, 1000, "settle",
            "Bounces after the impact are waited out for this long."),
    _switch("restart_on", "impact", True, "Restart on a bigger one",
            "A bigger impact while settling or observing starts the wait anew."),
    _number("observe_ms", "afterwards", MS, 10, 10000, 250, 2000, "observe",
            "Posture and stillness afterwards are measured over this long."),
    _switch("tilt_on", "afterwards", True, "Tilt change",
            "The mean direction afterwards must differ from the one before."),
    _number("tilt_deg", "afterwards", DEG, 0, 180, 5, 45.0, "at least",
            "The wearer has turned by at least this angle."),
    _number("baseline_ms", "afterwards", MS, 10, 5000, 250, 1000, "baseline",
            "The direction before is the mean over this long."),
    _switch("reclined_on", "afterwards", False, "Reclined",
            "The wearer must lie: the mean afterwards is far from the upright reading."),
    _number("reclined_deg", "afterwards", DEG, 0, 180, 5, 60.0, "at least",
            "Lying means at least this far from upright."),
    Parameter("upright", "afterwards", Unit.VECTOR, -1.0, 1.0, 0.05, (0.0, 1.0, 0.0), "upright",
              "What the sensor reads on an upright wearer at rest."),
    _switch("still_on", "afterwards", True, "Still", "The wearer must lie still afterwards."),
    _number("still_g", "afterwards", G, 0.01, 2.0, 0.05, 0.15, "below",
            "Movement about the mean is at most this, root mean square."),
    _number("guard_ms", "before", MS, 0, 5000, 100, 500, "guard",
            "This long just before the fall, the stumble, is left out of what counts as before."),
    _switch("busy_on", "before", False, "Busy", "Reject what follows vigorous movement, as in jogging."),
    _number("busy_band_g", "before", G, 0.05, 2.0, 0.05, 0.30, "band",
            "A sample is vigorous outside 1 g ± this."),
    _number("busy_window_ms", "before", MS, 10, 10000, 250, 2000, "window",
            "Vigorous samples are counted over this long before the guard."),
    _number("busy_share_pct", "before", PCT, 0, 100, 5, 50.0, "share",
            "At most this share of them may be vigorous."),
    _number("hold_off_ms", "alarm", MS, 10, 60000, 1000, 10000, "hold off",
            "Deaf for this long after an alarm."),
)

BY_KEY: Mapping[str, Parameter] = MappingProxyType({p.key: p for p in PARAMETERS})


class BadSetting(ValueError):
    """A setting that the rule can't run with. `key`, `value` and a `remedy` in words."""

    def __init__(self, key: str, value: object, message: str, remedy: str) -> None:
        super().__init__(f"{key} = {value!r}: {message} {remedy}")
        self.key, self.value, self.message, self.remedy = key, value, message, remedy


@dataclass(frozen=True)
class Settings(Mapping[str, Value]):
    """A value asked for, in physical units, for every row of the table. Immutable, hashable, in table order."""

    values_in_order: tuple[Value, ...] = tuple(p.default for p in PARAMETERS)

    def __getitem__(self, key: str) -> Value:
        return self.values_in_order[_POSITION[key]]

    def __iter__(self) -> Iterator[str]:
        return iter(_POSITION)

    def __len__(self) -> int:
        return len(PARAMETERS)

    def number(self, key: str) -> float:
        """The value of a row measured in g, ms, degrees or percent."""
        value = self[key]
        assert isinstance(value, int | float)
        return float(value)

    def with_value(self, key: str, value: object) -> Settings:
        """The same settings but for one row; BadSetting where the value is not of the row's kind."""
        if key not in _POSITION:
            raise BadSetting(key, value, "is no setting.", f"Known settings: {', '.join(_POSITION)}.")
        values = list(self.values_in_order)
        values[_POSITION[key]] = _checked(BY_KEY[key], value)
        return Settings(tuple(values))

    def plain(self) -> dict[str, bool | int | float | str | list[float]]:
        """Settings as JSON can hold them."""
        return {key: list(v) if isinstance(v := self[key], tuple) else v for key in self}


_POSITION: Mapping[str, int] = MappingProxyType({p.key: i for i, p in enumerate(PARAMETERS)})
DEFAULTS = Settings()


def from_plain(plain: Mapping[str, object]) -> tuple[Settings, tuple[str, ...]]:
    """Settings from plain values, and the keys that were missing and took their default.

    An unknown key or a value of the wrong kind raises BadSetting.
    """
    settings = DEFAULTS
    for key, value in plain.items():
        settings = settings.with_value(key, value)
    return settings, tuple(key for key in settings if key not in plain)


def _checked(row: Parameter, value: object) -> Value:
    if row.unit is Unit.SWITCH:
        if not isinstance(value, bool):
            raise BadSetting(row.key, value, "is neither true nor false.", "Write true or false.")
        return value
    if row.unit is Unit.CHOICE:
        for choice in row.choices:
            if value == choice and not isinstance(value, bool):
                return choice
        allowed = ", ".join(str(c) for c in row.choices)
        raise BadSetting(row.key, value, "is not one of the choices.", f"Choose one of: {allowed}.")
    if row.unit is Unit.VECTOR:
        if not isinstance(value, list | tuple) or len(value) != 3:
            raise BadSetting(row.key, value, "is not three numbers.", "Write [x, y, z] in g.")
        x, y, z = (_finite(row, v) for v in value)
        return (x, y, z)
    return _finite(row, value)


def _finite(row: Parameter, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= sys.float_info.max:
        raise BadSetting(row.key, value, "is not a finite number.", f"Write a number in {row.unit.value}.")
    return float(value)
