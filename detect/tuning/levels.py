"""What a search may try of each setting: few values on coarse steps, with the switch of its stage as one more.

Few numbers on coarse steps leave more on unseen people than many finely tuned ones. Steps are ratios for thresholds
and durations, even for angles and shares. Between two coarse levels lies a fine one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from detect.frontend import FrontEnd
from detect.rule import Rule, rule_of
from detect.settings import BY_KEY, DEFAULTS, BadSetting, Parameter, Settings, Unit, Value

SWITCH_OF: Mapping[str, str] = {"free_fall_g": "free_fall_on", "tilt_deg": "tilt_on", "still_g": "still_on",
                                "reclined_deg": "reclined_on", "busy_share_pct": "busy_on"}
"""Settings whose stage can be off: "off" is then one of their levels, next to the loosest threshold."""

NEEDS: Mapping[str, str] = {"free_fall_ms": "free_fall_on", "free_fall_rule": "free_fall_on",
                            "impact_within_ms": "free_fall_on", "busy_band_g": "busy_on",
                            "busy_window_ms": "busy_on", "baseline_ms": "tilt_on"}
"""Settings that mean nothing while a stage is off."""

LOOSE_BELOW = ("tilt_deg", "reclined_deg")
"""Thresholds that reject less the lower they are."""

TUNABLE = ("impact_g", "free_fall_g", "tilt_deg", "still_g", "busy_share_pct", "settle_ms", "observe_ms",
           "baseline_ms", "guard_ms", "busy_band_g", "busy_window_ms", "free_fall_ms", "impact_within_ms")
"""What a search looks at unless told otherwise. The pre-filter is the front end's business, hold-off and upright
the device's."""

USUAL: Mapping[str, tuple[float, float]] = {
    "impact_g": (1.25, 16.0), "free_fall_g": (0.2, 0.9), "free_fall_ms": (20, 300), "impact_within_ms": (200, 2000),
    "settle_ms": (100, 2000), "observe_ms": (250, 3000), "tilt_deg": (10, 90), "baseline_ms": (100, 2000),
    "reclined_deg": (10, 90), "still_g": (0.05, 2.0), "guard_ms": (100, 2000), "busy_band_g": (0.1, 1.0),
    "busy_window_ms": (500, 4000), "busy_share_pct": (10, 90),
}
"""Bounds unless told otherwise. An alarm later than five seconds after the impact helps nobody, and recordings that
end soon after it would be judged early: so settle and observe stay short."""

RATIO: Mapping[str, float] = {"impact_g": 1.05}
RATIO_OF_UNIT: Mapping[Unit, float] = {Unit.G: 2 ** (1 / 4), Unit.MS: 2 ** (1 / 2)}
STEP_OF_UNIT: Mapping[Unit, float] = {Unit.DEGREE: 7.5, Unit.PERCENT: 10.0}
"""Steps between neighbouring coarse levels. All peaks of impacts lie within a factor of two or three, so their steps
are closest."""

OFF = None
Level = Value | None


@dataclass(frozen=True)
class Scale:
    """The levels of one setting in order, each a detector of its own; `coarse` are the places of coarse ones."""

    key: str
    levels: tuple[Level, ...]
    coarse: tuple[int, ...]

    def places(self, coarse: bool) -> tuple[int, ...]:
        """Of the levels that a search looks at."""
        return self.coarse if coarse else tuple(range(len(self.levels)))

    def apply(self, settings: Settings, level: Level) -> Settings:
        """Settings with this setting at a level."""
        switch = SWITCH_OF.get(self.key)
        if switch is None:
            return settings.with_value(self.key, level)
        if level is OFF:
            return settings.with_value(switch, False)
        return settings.with_value(switch, True).with_value(self.key, level)


def scale(key: str, front_end: FrontEnd, bounds: tuple[float, float] | None = None) -> Scale:
    """Levels of a setting between `bounds`, or its usual ones, in its physical unit.

    BadSetting for a setting that can't be tuned, bounds the wrong way round, or where no level is left.
    """
    row = BY_KEY.get(key)
    if row is None or row.unit is Unit.VECTOR or key in SWITCH_OF.values():
        raise BadSetting(key, None, "is no setting that can be tuned.", f"Choose among: {', '.join(tunable())}.")
    if row.unit in (Unit.SWITCH, Unit.CHOICE):
        levels: tuple[Level, ...] = (False, True) if row.unit is Unit.SWITCH else row.choices
        return Scale(key, levels, tuple(range(len(levels))))
    low, high = bounds or USUAL.get(key) or (row.low, row.high)
    if low > high:
        raise BadSetting(key, [low, high], "has its bounds the wrong way round.", "Write the lower one first.")
    distinct: dict[Rule, tuple[float, bool]] = {}
    for value, is_coarse in _values(row, low, high, front_end):
        rule = _rule_alone(row, value, front_end)
        if rule is not None and (is_coarse or rule not in distinct):
            distinct[rule] = value, is_coarse
    if not distinct:
        raise BadSetting(key, [low, high], "has no value between these that the rule can take.", "Widen the bounds.")
    values: list[tuple[float | None, bool]] = list(distinct.values())
    if not any(is_coarse for _, is_coarse in values):
        values = [(value, True) for value, _ in values]
    if key in SWITCH_OF:
        values.insert(0 if key in LOOSE_BELOW else len(values), (OFF, True))
    return Scale(key, tuple(value for value, _ in values),
                 tuple(i for i, (_, is_coarse) in enumerate(values) if is_coarse))


def tunable() -> tuple[str, ...]:
    """Every setting that `scale` takes, in the table's order."""
    return tuple(key for key, row in BY_KEY.items() if row.unit is not Unit.VECTOR and key not in SWITCH_OF.values())


def _values(row: Parameter, low: float, high: float, front_end: FrontEnd) -> list[tuple[float, bool]]:
    """Values ascending, and whether each is a coarse one. Bounds that hold no level are levels themselves."""
    if row.unit in STEP_OF_UNIT:
        step = STEP_OF_UNIT[row.unit] / 2
        places = range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)
        return [(i * step, i % 2 == 0) for i in places] or _ends(low, high)
    if low <= 0:
        raise BadSetting(row.key, low, "is no lower bound for steps that are ratios.", "Write one above 0.")
    origin = _origin(row, front_end)
    ratio = RATIO.get(row.key, RATIO_OF_UNIT[row.unit]) ** (1 / 2)
    places = range(math.ceil(math.log(low / origin) / math.log(ratio) - 1e-9),
                   math.floor(math.log(high / origin) / math.log(ratio) + 1e-9) + 1)
    return [(float(f"{origin * ratio ** i:.4g}"), i % 2 == 0) for i in places] or _ends(low, high)


def _ends(low: float, high: float) -> list[tuple[float, bool]]:
    return [(low, True), (high, True)]


def _origin(row: Parameter, front_end: FrontEnd) -> float:
    """Levels are counted from here, so that the same ones come whatever the bounds: 1 g, 1 s; of an impact what one
    axis at the end of its range reads, since peaks that clip pile up there."""
    if row.key == "impact_g":
        return front_end.g(2 ** (front_end.bits - 1) - 1)
    return 1.0 if row.unit is Unit.G else 1000.0


def _rule_alone(row: Parameter, value: float, front_end: FrontEnd) -> Rule | None:
    """What tells two levels apart: the integers; None where the rule has none for it."""
    settings = DEFAULTS.with_value("free_fall_on", False).with_value(row.key, value)
    largest = math.sqrt(3) * front_end.range_g
    if row.key == "impact_g" and value > largest:
        return None  # never reached
    try:
        return rule_of(settings, front_end)
    except BadSetting:
        return None
