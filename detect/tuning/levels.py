"""What a search may try of each setting: few values on coarse steps, with the switch of its stage as one more.

Few numbers on coarse steps leave more on unseen people than many finely tuned ones. Steps are ratios for thresholds
and durations, even for angles and shares. Between two coarse levels lies a fine one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.parameter_row import OFF_LOWEST
from detect.rule.settings import BY_KEY, DEFAULTS, PARAMETERS, BadSetting, Parameter, Settings, Unit, Value

_NUMBERS = tuple(row for row in PARAMETERS if row.is_number)

SWITCH_OF: Mapping[str, str] = MappingProxyType({row.key: row.needs for row in _NUMBERS if row.tuning.off})
"""Settings whose stage can be off: "off" is then one of their levels, next to the loosest threshold."""

NEEDS: Mapping[str, str] = MappingProxyType(
    {row.key: row.needs for row in PARAMETERS if row.needs and row.key not in SWITCH_OF})
"""Other settings that mean nothing while a stage is off."""

TUNABLE = tuple(row.key for row in sorted(_NUMBERS, key=lambda row: row.tuning.turn) if row.tuning.turn)
"""What a search looks at unless told otherwise, the first ones first."""

OFF = None
Level = Value | None


@dataclass(frozen=True)
class LevelScale:
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


def scale(key: str, front_end: FrontEnd, bounds: tuple[float, float] | None = None) -> LevelScale:
    """Levels of a setting between `bounds`, or its usual ones, in its physical unit.

    BadSetting for a setting that can't be tuned, bounds the wrong way round, or where no level is left.
    """
    row = BY_KEY.get(key)
    if row is None or row.unit is Unit.VECTOR or key in SWITCH_OF.values():
        raise BadSetting(key, None, "is not a setting that can be tuned.", f"Choose among: {', '.join(tunable())}.")
    if row.unit in (Unit.SWITCH, Unit.CHOICE):
        levels: tuple[Level, ...] = (False, True) if row.unit is Unit.SWITCH else row.choices
        return LevelScale(key, levels, tuple(range(len(levels))))
    low, high = bounds or usual_bounds(row)
    if low > high:
        raise BadSetting(key, [low, high], "has its bounds the wrong way round.", "Write the lower one first.")
    distinct: dict[Rule, tuple[float, bool]] = {}
    for value, is_coarse in _values(row, low, high, front_end):
        rule = _rule_alone(row, value, front_end)
        if rule is not None and (is_coarse or rule not in distinct):
            distinct[rule] = value, is_coarse
    if not distinct:
        raise BadSetting(key, [low, high], "has no value between these that the rule can run with.",
                         "Widen the bounds.")
    values: list[tuple[float | None, bool]] = list(distinct.values())
    if not any(is_coarse for _, is_coarse in values):
        values = [(value, True) for value, _ in values]
    if key in SWITCH_OF:
        values.insert(0 if row.tuning.off == OFF_LOWEST else len(values), (OFF, True))
    return LevelScale(key, tuple(value for value, _ in values),
                 tuple(i for i, (_, is_coarse) in enumerate(values) if is_coarse))


def in_order(keys: Iterable[str]) -> list[str]:
    """The order in which a search looks at settings, whoever lists them how."""
    order = (*TUNABLE, *BY_KEY)
    return sorted(keys, key=lambda key: order.index(key) if key in order else len(order))


def canonical_start(settings: Settings, front_end: FrontEnd, keys: Iterable[str]) -> Settings:
    """Where a search for `keys` starts: these and their switches at their defaults, the others as they are. So what is
    found does not depend on where those stood. As they are too where the rule can't run with the defaults."""
    start = settings
    for key in keys:
        for one in filter(None, (key, SWITCH_OF.get(key))):
            start = start.with_value(one, DEFAULTS[one]) if one in BY_KEY else start
    try:
        rule_of(start, front_end)
    except BadSetting:
        return settings
    return start


def usual_bounds(row: Parameter) -> tuple[float, float]:
    """Of a number, unless told otherwise."""
    return row.tuning.low, row.tuning.high


def tunable() -> tuple[str, ...]:
    """Every setting that `scale` takes, in the table's order."""
    return tuple(key for key, row in BY_KEY.items() if row.unit is not Unit.VECTOR and key not in SWITCH_OF.values())


def _values(row: Parameter, low: float, high: float, front_end: FrontEnd) -> list[tuple[float, bool]]:
    """Values ascending, and whether each is a coarse one. Bounds that hold no level are levels themselves."""
    if row.unit not in (Unit.G, Unit.MS):
        step = row.tuning.step / 2
        places = range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)
        return [(i * step, i % 2 == 0) for i in places] or _ends(low, high)
    if low <= 0:
        raise BadSetting(row.key, low, "can't be the lower bound of steps that are ratios.", "Write one above 0.")
    origin = _origin(row, front_end)
    ratio = row.tuning.step ** (1 / 2)
    places = range(math.ceil(math.log(low / origin) / math.log(ratio) - 1e-9),
                   math.floor(math.log(high / origin) / math.log(ratio) + 1e-9) + 1)
    return [(float(f"{origin * ratio ** i:.4g}"), i % 2 == 0) for i in places] or _ends(low, high)


def _ends(low: float, high: float) -> list[tuple[float, bool]]:
    return [(low, True), (high, True)]


def _origin(row: Parameter, front_end: FrontEnd) -> float:
    """Levels are counted from here, so that the same ones come whatever the bounds: 1 g, 1 s; of an impact what one
    axis at the end of its range reads, since peaks that clip pile up there."""
    if row.key == "impact_g":
        return front_end.g(front_end.highest)
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
