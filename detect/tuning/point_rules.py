"""The rules of points, put together from parts that were worked out before: a search asks for very many.

A setting's level becomes the same integers whatever the others are at, but for a share of a duration: those two are one
part. What is left to look at is whether a sample could be both low and an impact.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, low_stays_below_impact, rule_of
from detect.rule.settings import BY_KEY, PARAMETERS, BadSetting, Settings
from detect.tuning.levels import SWITCH_OF, LevelScale

HELD = -1
"""Instead of a level's place: the setting stays at what it was at the start."""

Point = tuple[int, ...]
"""For each scale the place of a level, or HELD."""

_PLACE = {one.name: place for place, one in enumerate(fields(Rule))}

Part = tuple[tuple[int, object], ...]
"""Places of Rule's fields, and their values."""


class PointRules:
    """Rules of points around `start`, a place in each of `scales` or HELD."""

    def __init__(self, start: Settings, front_end: FrontEnd, scales: Sequence[LevelScale]) -> None:
        self._start, self._front_end, self._scales = start, front_end, scales
        plain = self._low_or_not(start)
        self._at_start = None if plain is None else [getattr(plain, name) for name in _PLACE]
        if self._at_start is not None:
            self._at_start[_PLACE["free_fall_on"]] = start["free_fall_on"]
        self._groups = [(axes, _fields_of([scales[axis].key for axis in axes])) for axes in self._together()]
        self._known: list[dict[tuple[int, ...], Part | None]] = [{} for _ in self._groups]

    def rule(self, point: Sequence[int]) -> Rule | None:
        """The integers; None where the rule can't run with them."""
        if self._at_start is None:
            return None
        values = self._at_start.copy()
        for (axes, names), known in zip(self._groups, self._known, strict=True):
            places = tuple([point[axis] for axis in axes])
            if places not in known:
                known[places] = self._part(axes, names, places)
            part = known[places]
            if part is None:
                return None
            for field, value in part:
                values[field] = value
        rule = Rule(*values)
        return rule if low_stays_below_impact(rule) else None

    def _together(self) -> list[tuple[int, ...]]:
        """Axes by part."""
        axis_of = {one.key: axis for axis, one in enumerate(self._scales)}
        whole = {axis: axis_of.get(BY_KEY[one.key].share_of, axis) for axis, one in enumerate(self._scales)}
        return [tuple(axis for axis in whole if whole[axis] == first) for first in whole if whole[first] == first]

    def _part(self, axes: tuple[int, ...], names: Sequence[str], places: tuple[int, ...]) -> Part | None:
        settings = self._start
        for axis, place in zip(axes, places, strict=True):
            if place != HELD:
                settings = self._scales[axis].apply(settings, self._scales[axis].levels[place])
        rule = self._low_or_not(settings)
        if rule is None:
            return None
        return tuple((_PLACE[name], settings["free_fall_on"] if name == "free_fall_on" else getattr(rule, name))
                     for name in names)

    def _low_or_not(self, settings: Settings) -> Rule | None:
        """The integers without free fall, which alone may contradict another setting."""
        try:
            return rule_of(settings.with_value("free_fall_on", False), self._front_end)
        except BadSetting:
            return None


def _fields_of(keys: Sequence[str]) -> list[str]:
    """Fields of Rule that these settings, and the switches tuned with them, decide."""
    rows = [row for row in PARAMETERS
            if row.key in keys or row.key in [SWITCH_OF.get(key) for key in keys] or row.share_of in keys]
    return [name for row in rows for name in dict.fromkeys(one.field for one in row.integers)]
