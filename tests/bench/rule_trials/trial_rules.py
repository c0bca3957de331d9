"""Rules with one candidate more: points of the search, and the engine that judges them.

A candidate is a check like the rule's own. It has a first setting, whose levels begin with "off", and may have more,
which mean nothing while it is off. Everything else, where attempts begin, rest and end, is the engine's.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields

import numpy as np

from detect.engine import engine
from detect.engine.verdicts import MUCH, EngineCase
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, cosine
from detect.rule.settings import Settings
from detect.tuning.levels import OFF, Level, LevelScale
from detect.tuning.point_rules import HELD, Point
from detect.tuning.space import Space

Integers = tuple[int | None, ...]
"""A candidate's settings as the rule has them, None where one is off."""


@dataclass(frozen=True, eq=False)
class Front:
    """What of the front end a candidate's arithmetic needs: 1 g in counts, samples a second."""

    one_g: int
    rate: int


Passing = Callable[["TrialCase", np.ndarray, Integers, Front], np.ndarray]
"""Of the places `which` of engine candidates, ascending and all with an impact, those that pass all checks."""


@dataclass(frozen=True, eq=False)
class TrialSetting:
    """One setting of a candidate: `unit` g, ms, deg, n (a number), g2 (g², summed over samples or not)."""

    key: str
    unit: str
    levels: tuple[Level, ...]

    def integer(self, level: Level, front_end: FrontEnd) -> int | None:
        if level is OFF:
            return None
        value = float(level)  # type: ignore[arg-type]
        if self.unit == "g":
            return front_end.counts(value)
        if self.unit == "ms":
            return max(front_end.samples(value), 1)
        if self.unit == "deg":
            return cosine(value)
        if self.unit == "g2":
            return int(np.floor(value * front_end.k ** 2 + 0.5))
        return int(value)


@dataclass(frozen=True, eq=False)
class Candidate:
    """`cost`: instructions a sample and bytes of state on a 32-bit core, reckoned by hand."""

    name: str
    settings: tuple[TrialSetting, ...]
    passing: Passing
    cost: tuple[int, int]


@dataclass(frozen=True)
class TrialRule(Rule):
    """A rule with a candidate on."""

    candidate: Candidate
    integers: Integers
    front: tuple[int, int]


class TrialSpace(Space):
    """The points around `start` with the settings of a candidate besides, off where they are held."""

    def __init__(self, start: Settings, front_end: FrontEnd, scales: Sequence[LevelScale],
                 candidate: Candidate | None) -> None:
        super().__init__(start, front_end, scales)
        self._own, self._candidate = len(self.scales), candidate
        if candidate is None:
            return
        further = [LevelScale(one.key, one.levels, tuple(range(len(one.levels)))) for one in candidate.settings]
        homes = [0, *(len(one.levels) // 2 for one in further[1:])]
        self.scales = (*self.scales, *further)
        self._same += homes
        self._home += homes

    def normal(self, point: Sequence[int]) -> Point:
        normal = super().normal(point)
        if self._candidate is None or normal[self._own] != HELD:
            return normal
        return (*normal[:self._own], *[HELD] * (len(normal) - self._own))

    def rule(self, point: Point) -> Rule | None:
        rule = super().rule(point)
        if rule is None or self._candidate is None or point[self._own] == HELD:
            return rule
        places = [self._home[i] if point[i] == HELD else point[i] for i in range(self._own, len(point))]
        integers = tuple(one.integer(one.levels[place], self.front_end)
                         for one, place in zip(self._candidate.settings, places, strict=True))
        front = self.front_end.counts(1.0), round(self.front_end.rate_hz)
        return TrialRule(*[getattr(rule, one.name) for one in fields(Rule)], self._candidate, integers, front)

    def said(self, point: Point) -> str:
        """The settings that are not held, in words."""
        return ", ".join(f"{one.key} {'off' if one.levels[place] is OFF else one.levels[place]}"
                         for one, place in zip(self.scales, point, strict=True) if place != HELD)


class TrialCase(EngineCase):
    """An engine's case that asks the candidate too."""

    def passing(self, which: np.ndarray) -> np.ndarray:
        rule = self.rule
        if not isinstance(rule, TrialRule) or not len(which):
            return super().passing(which)
        parts = [which[at:at + MUCH] for at in range(0, len(which), MUCH)]
        return np.concatenate([rule.candidate.passing(self, part, rule.integers, Front(*rule.front))
                               for part in parts])

    def own_checks(self, which: np.ndarray, rule: Rule | None = None) -> np.ndarray:
        """Those that pass the rule's own checks, or those of another rule that watches as long."""
        case = self if rule is None else EngineCase(self.index, rule, self.begun, self.landed, self.way, self.tables)
        return EngineCase.passing(case, which)


def with_candidates() -> None:
    """From now on engines judge trial rules too; plain ones as ever."""
    engine.EngineCase = TrialCase  # type: ignore[misc]
