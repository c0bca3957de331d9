"""What a search may try of each setting: few values, coarse steps, with the switch of a stage as one more value.

Few numbers on coarse steps leave more on unseen people than many finely tuned ones; so steps are ratios for
thresholds and durations, and `fineness` puts more between them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from detect.frontend import FrontEnd
from detect.rule import rule_of
from detect.settings import BY_KEY, BadSetting, Parameter, Settings, Unit, Value

SWITCH_OF: Mapping[str, str] = {"free_fall_g": "free_fall_on", "tilt_deg": "tilt_on", "still_g": "still_on",
                                "reclined_deg": "reclined_on", "busy_share_pct": "busy_on"}
"""Settings whose stage can be off: "off" is then one of their values."""

NEEDS: Mapping[str, str] = {"free_fall_ms": "free_fall_on", "free_fall_rule": "free_fall_on",
                            "impact_within_ms": "free_fall_on", "busy_band_g": "busy_on", "busy_window_ms": "busy_on",
                            "baseline_ms": "tilt_on"}
"""Settings that mean nothing while a stage is off."""

TUNABLE = ("impact_g", "tilt_deg", "still_g", "busy_share_pct", "free_fall_g", "free_fall_ms", "impact_within_ms",
           "settle_ms", "observe_ms", "baseline_ms", "guard_ms", "busy_band_g", "busy_window_ms",
           "prefilter_samples", "restart_on")
"""What a search looks at unless told otherwise. Hold-off and upright are the device's business, not the score's."""

RATIO: Mapping[Unit, float] = {Unit.G: 1.2, Unit.MS: 1.5}
STEP: Mapping[Unit, float] = {Unit.DEGREE: 10.0, Unit.PERCENT: 10.0}

OFF = None
Level = Value | None


@dataclass(frozen=True)
class Scale:
    """The levels of one setting, ascending, each a detector of its own; OFF first where the stage can be off."""

    key: str
    levels: tuple[Level, ...]

    def apply(self, settings: Settings, level: Level) -> Settings:
        """Settings with this setting at a level; BadSetting where the two don't go together."""
        switch = SWITCH_OF.get(self.key)
        if level is OFF:
            assert switch is not None
            return settings.with_value(switch, False)
        if switch is not None:
            settings = settings.with_value(switch, True)
        return settings.with_value(self.key, level)

    def speaks(self, settings: Settings) -> bool:
        """Whether the setting means anything beside the others."""
        needs = NEEDS.get(self.key)
        return needs is None or bool(settings[needs])


def scale(key: str, front_end: FrontEnd, fineness: int = 1,
          bounds: tuple[float, float] | None = None) -> Scale:
    """Levels of a setting between `bounds`, or over its slider, in its physical unit. `fineness` 1 is coarse.

    BadSetting for bounds the wrong way round, or where no level is left.
    """
    row = BY_KEY[key]
    if row.unit in (Unit.SWITCH, Unit.CHOICE):
        return Scale(key, (False, True) if row.unit is Unit.SWITCH else row.choices)
    low, high = bounds or _usual(row, front_end)
    if low > high:
        raise BadSetting(key, [low, high], "has its bounds the wrong way round.", "Write the lower one first.")
    values = [value for value in _values(row.unit, low, high, fineness)]
    distinct: dict[object, float] = {}
    for value in values:
        distinct.setdefault(_integer(row, value, front_end), value)
    distinct.pop(None, None)
    if not distinct:
        raise BadSetting(key, [low, high], "has no value here that the rule can take.", "Widen the bounds.")
    levels: tuple[Level, ...] = tuple(distinct.values())
    return Scale(key, (OFF, *levels) if key in SWITCH_OF else levels)


def _usual(row: Parameter, front_end: FrontEnd) -> tuple[float, float]:
    """The slider's ends; an impact no higher than the range's largest magnitude, an angle that can be reached."""
    if row.key == "impact_g":
        return row.low, min(row.high, math.sqrt(3) * front_end.range_g)
    if row.unit is Unit.DEGREE:
        return 10.0, 90.0
    if row.unit is Unit.MS:
        return max(row.low, 1000 / front_end.rate_hz), row.high
    return max(row.low, 0.05), row.high


def _values(unit: Unit, low: float, high: float, fineness: int) -> list[float]:
    if unit in STEP:
        step = STEP[unit] / fineness
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        return [i * step for i in range(first, last + 1)] or [low]
    ratio = RATIO[unit] ** (1 / fineness)
    # Powers of the ratio from 1 g or 1 s, so that the same levels come whatever the bounds.
    origin = 1.0 if unit is Unit.G else 1000.0
    first = math.ceil(math.log(low / origin) / math.log(ratio) - 1e-9)
    last = math.floor(math.log(high / origin) / math.log(ratio) + 1e-9)
    return [_short(origin * ratio ** i) for i in range(first, last + 1)] or [low]


def _short(value: float) -> float:
    """Two digits are enough of a coarse step."""
    return float(f"{value:.3g}")


def _integer(row: Parameter, value: float, front_end: FrontEnd) -> object:
    """What tells two levels apart; None where the rule has no integer for it."""
    try:
        rule = rule_of(_ALONE.with_value(row.key, value), front_end)
    except BadSetting:
        return None
    return rule


_ALONE = Settings().with_value("free_fall_on", False)
