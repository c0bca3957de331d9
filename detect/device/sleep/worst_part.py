"""Of all parts that a data sheet allows the one whose device loses most by sleeping, and what it loses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from detect.device.energy.current import WOKEN
from detect.device.quantities import Values
from detect.device.sleep.awake import Duty
from detect.device.sleep.losses import later
from detect.device.sleep.scores import SleepAttempts, Woken, woken
from detect.device.sleep.wake_settings import NEVER, LinePart, line_parts, waking_of
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule
from detect.rule.settings import BadSetting
from detect.scoring.corpus import Corpus
from detect.scoring.score import MISSED, Score
from detect.workers import Stopped

Scored = Callable[[np.ndarray, np.ndarray], Score]
"""Recordings and impacts of alarms to their score."""


@dataclass(frozen=True, eq=False)
class WorstPart:
    """`part` catches the fewest falls, of such the one with the most false alarms. `tried`: of every part falls caught
    and share of the time awake."""

    part: LinePart
    slept: Woken
    score: Score
    tried: tuple[tuple[LinePart, int, Duty], ...]


@dataclass(frozen=True)
class AsleepLoss:
    """Of `caught` falls that a device catches that never sleeps `lost` by the worst part, and how much later its alarms
    come at most, None where none came. `refused`: why such a device can't be; the rest is 0 then."""

    lost: int
    caught: int
    later_ms: float | None = None
    refused: str = ""


def worst_part(corpus: Corpus, rule: Rule, values: Values, front_end: FrontEnd, scored: Scored,
               cancelled: Callable[[], bool] = lambda: False,
               progress: Callable[[float], None] = lambda share: None) -> WorstPart:
    """Every part on the corpus. Raises BadSetting where the numbers contradict each other, Stopped where cancelled."""
    parts, tried = line_parts(values), []
    worst: tuple[tuple[int, int], LinePart, Woken, Score] | None = None
    for at, part in enumerate(parts):
        one = woken(corpus, rule, waking_of(values, front_end, part), cancelled)
        if one is None:
            raise Stopped
        alarms = one.tried.alarms
        score = scored(one.tried.recording[alarms], one.tried.impact[alarms])
        tried.append((part, score.matrix.tp, one.duty))
        rank = score.matrix.tp, -score.matrix.fp
        if worst is None or rank < worst[0]:
            worst = rank, part, one, score
        progress((at + 1) / len(parts))
    assert worst is not None
    return WorstPart(*worst[1:], tuple(tried))


def sleeps(values: Values) -> bool:
    """Whether a device hears only what its line or its timer wakes it for."""
    return values.text("current.sleeps") == WOKEN and values.text("wake.line") != NEVER


def asleep_loss(corpus: Corpus, rule: Rule, values: Values, front_end: FrontEnd, always: SleepAttempts, score: Score,
                scored: Scored) -> AsleepLoss | None:
    """What sleeping costs such a device; None where it never sleeps. `always`, `score`: of one that never does."""
    if not sleeps(values):
        return None
    try:
        worst = worst_part(corpus, rule, values, front_end, scored)
    except BadSetting as bad:
        return AsleepLoss(0, 0, None, f"{bad.key} {bad.message} {bad.remedy}".strip())
    lost = int(np.count_nonzero((score.outcome != MISSED) & (worst.score.outcome == MISSED)))
    late = later(always, score, worst.slept, worst.score, front_end.rate_hz)
    return AsleepLoss(lost, score.matrix.tp, None if late is None else late.most_ms)
