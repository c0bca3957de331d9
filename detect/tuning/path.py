"""From few tuned settings to more: a path of settings, each step adding the one that pays most.

A search is a conversation: it yields settings it wants tried and is sent their counts by person. Whoever drives it
decides where they are computed and remembers them, so that many searches on overlapping people share the work and
give the same answer on one worker or twenty.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass

import numpy as np

from detect.settings import Settings
from detect.tuning.goal import Goal
from detect.tuning.levels import Level, Scale

Counts = np.ndarray | None
"""(people, 5) counts of one setting; None where the rule can't run with it."""

Search = Generator[list[Settings], list[Counts], "Path"]

LEAST_GAIN = 1e-9


@dataclass(frozen=True)
class Step:
    """Settings with `len(tuned)` settings tuned, and the goal's value on the people they were tuned on."""

    settings: Settings
    tuned: tuple[str, ...]
    value: float


@dataclass(frozen=True)
class Path:
    """The steps of one search, from no setting tuned upwards."""

    steps: tuple[Step, ...]

    def step(self, tuned: int) -> Step:
        """With so many settings tuned, or fewer where more brought nothing."""
        return self.steps[min(tuned, len(self.steps) - 1)]


def search(start: Settings, scales: Sequence[Scale], goal: Goal, people: np.ndarray, most: int,
           smoothing: float = 1.0) -> Search:
    """A path for these people (a mask over all): add the setting that pays most, then go over all tuned again."""
    value = yield from _value(start, goal, people)
    steps = [Step(start, (), value)]
    settings, tuned = start, []
    while len(tuned) < most:
        best, best_scale = None, None
        for one in scales:
            if one in tuned or not one.speaks(settings):
                continue
            found = yield from _scan(settings, one, goal, people, smoothing)
            if found is not None and (best is None or found[1] > best[1] + LEAST_GAIN):
                best, best_scale = found, one
        if best is None or best_scale is None or best[1] <= value + LEAST_GAIN:
            break
        settings, value = best
        tuned.append(best_scale)
        settings, value = yield from _polish(settings, value, tuned, goal, people, smoothing)
        steps.append(Step(settings, tuple(one.key for one in tuned), value))
    return Path(tuple(steps))


def _polish(settings: Settings, value: float, scales: Sequence[Scale], goal: Goal, people: np.ndarray,
            smoothing: float) -> Generator[list[Settings], list[Counts], tuple[Settings, float]]:
    """Go over the settings one by one until none of them improves."""
    for _ in range(4):
        before = settings
        for one in scales:
            found = yield from _scan(settings, one, goal, people, smoothing)
            if found is not None and found[0] != settings and found[1] > value + LEAST_GAIN:
                settings, value = found
        if settings == before:
            break
    return settings, value


def _value(settings: Settings, goal: Goal, people: np.ndarray) -> Generator[list[Settings], list[Counts], float]:
    counts = (yield [settings])[0]
    return -np.inf if counts is None else float(goal.value(counts[people].sum(axis=0)))


def _scan(settings: Settings, scale: Scale, goal: Goal, people: np.ndarray, smoothing: float) \
        -> Generator[list[Settings], list[Counts], tuple[Settings, float] | None]:
    """The level that stands best among its neighbours; its value is smoothed over them."""
    tries = [scale.apply(settings, level) for level in scale.levels]
    counts = yield tries
    values = np.array([-np.inf if c is None else float(goal.value(c[people].sum(axis=0))) for c in counts])
    if not np.any(np.isfinite(values)):
        return None
    smooth = smoothed(values, scale.levels, smoothing)
    at = int(np.argmax(smooth))
    return tries[at], float(smooth[at])


def smoothed(values: np.ndarray, levels: Sequence[Level], weight: float) -> np.ndarray:
    """Each value averaged with its neighbours, which count `weight`/2 each: the middle of a plateau wins over its
    edge. Off, and choices, have no neighbours."""
    found = values.copy()
    numbers = [i for i, level in enumerate(levels) if isinstance(level, float) and np.isfinite(values[i])]
    if len(numbers) < 2 or weight == 0:
        return found
    run = values[numbers]
    padded = np.concatenate((run[:1], run, run[-1:]))
    found[numbers] = (run + weight / 2 * (padded[:-2] + padded[2:])) / (1 + weight)
    return found
