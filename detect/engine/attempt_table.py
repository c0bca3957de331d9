"""A table of attempts, a column each: what scoring needs at once, everything else when somebody asks.

Every measured value of attempts that happened: computed for those that somebody looks at.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from detect.engine.index import Index
from detect.engine.judge import Turn, rdiv, spread_of, turn
from detect.engine.stages import Candidates, Landings, active_before, mean_before, observed, resumes, rows_of, watched
from detect.engine.sums import END
from detect.engine.verdicts import EngineCase
from detect.rule.attempt import CHECKS, ENDS, Attempt
from detect.rule.integers import Rule


@dataclass(frozen=True, eq=False)
class DetailColumn:
    """int64 or bool `values`, meaningful only where `known`."""

    values: np.ndarray
    known: np.ndarray


AFTER_IMPACT = ("first_impact", "impact", "restarts", "peak", "q", "n", "dot", "a_sq", "b_sq", "dot_u", "a_u_sq",
                "u_sq", "spread")


def explain(index: Index, rule: Rule, begun: Candidates, landed: Landings, landing: np.ndarray,
            watching: np.ndarray) -> dict[str, DetailColumn]:
    """Columns named as the fields of `Attempt`, one row for each that began, landed as `landing`, and `watching` since
    which place; checks are bits, in the order of CHECKS."""
    size = len(begun.first)
    stretch = index.stretch_of(begun.first)
    every = np.ones(size, dtype=bool)
    cut_off = ~begun.hit & (index.m2[begun.at] == END)
    columns = _primed(index, rule, begun, cut_off, watching, stretch)
    columns |= {name: DetailColumn(np.zeros(size, dtype=np.int64), ~every) for name in AFTER_IMPACT}
    columns["decided"] = DetailColumn(begun.at - cut_off + index.to_sample[stretch], every)
    columns |= {name: DetailColumn(np.zeros(size, dtype=np.int64), every) for name in ("early", "failed", "skipped")}
    hits = np.flatnonzero(begun.hit)
    for name, column in _judged(index, rule, rows_of(begun, hits), rows_of(landed, landing[hits])).items():
        columns[name].values[hits] = column.values
        columns[name].known[hits] = column.known
    return columns


def _primed(index: Index, rule: Rule, begun: Candidates, cut_off: np.ndarray, watching: np.ndarray,
            stretch: np.ndarray) -> dict[str, DetailColumn]:
    """What belongs to free fall; null without it."""
    known = np.full(len(stretch), rule.free_fall_on)
    to_sample = index.to_sample[stretch]
    primed = np.maximum(watching, begun.first + rule.free_fall_run - 1)
    stop = begun.at + ~cut_off  # one past the last sample processed in PRIMED
    lowest = _over(index.m2, begun.first, stop, np.minimum) if rule.free_fall_on else stop
    stop = stop - begun.hit
    some = known & (stop > primed + 1)
    highest = np.zeros(len(stop), dtype=np.int64)
    highest[some] = _over(index.m2, primed[some] + 1, stop[some], np.maximum)
    return {"first_low": DetailColumn(begun.first + to_sample, known),
            "last_low": DetailColumn(begun.last_low + to_sample, known),
            "lowest": DetailColumn(lowest, known), "highest": DetailColumn(highest, some)}


def _over(m2: np.ndarray, first: np.ndarray, stop: np.ndarray, what: np.ufunc) -> np.ndarray:
    """`what` reduced over the places from each first up to its stop, none empty."""
    if not len(first):
        return np.zeros(0, dtype=np.int64)
    m2 = m2[_spans(first, stop)]
    lengths = stop - first
    return np.asarray(what.reduceat(m2, np.cumsum(lengths) - lengths)).astype(np.int64)


def _spans(first: np.ndarray, stop: np.ndarray) -> np.ndarray:
    """All places from each first up to its stop, one after the other."""
    lengths = stop - first
    return np.arange(int(lengths.sum())) + np.repeat(first - np.cumsum(lengths) + lengths, lengths)


def _restarts(m2: np.ndarray, first: np.ndarray, last: np.ndarray) -> np.ndarray:
    """How many samples after each `first` are higher than all since it: with restarts, those are the restarts.

    Records are counted with running maxima; a span's own begin from its own height, as if those before were below.
    """
    if not len(first):
        return np.zeros(0, dtype=np.int64)
    lengths = last + 1 - first
    which = np.repeat(np.arange(len(first)), lengths)
    height = (which << 32) + m2[_spans(first, last + 1)]
    records = np.append(False, height[1:] > np.maximum.accumulate(height)[:-1])
    return np.bincount(which[records], minlength=len(first)) - (np.arange(len(first)) > 0)


def _judged(index: Index, rule: Rule, begun: Candidates, landed: Landings) -> dict[str, DetailColumn]:
    """What belongs to impact and judging, for attempts that got there."""
    every = np.ones(len(begun.first), dtype=bool)
    to_sample = index.to_sample[landed.stretch]
    settled = np.minimum(landed.impact + rule.settle, landed.judged)
    columns = {
        "first_impact": DetailColumn(begun.at + to_sample, every),
        "impact": DetailColumn(landed.impact + to_sample, every),
        "restarts": DetailColumn(_restarts(index.m2, begun.at, landed.impact), every),
        "peak": DetailColumn(_over(index.m2, landed.impact, settled + 1, np.maximum), every),
        "decided": DetailColumn(landed.judged + to_sample, every),
        "early": DetailColumn(cut_short(rule, landed), every),
        "n": DetailColumn(landed.n, every & rule.observes),
    }
    failed = np.zeros(len(every), dtype=np.int64)
    skipped = np.zeros(len(every), dtype=np.int64)
    for bit, check in enumerate(CHECKS):
        spoke = _CHECKS[check](index, rule, begun.first, landed, columns)
        if spoke is not None:
            passed, speaks = spoke
            failed |= (speaks & ~passed).astype(np.int64) << bit
            skipped |= (~speaks).astype(np.int64) << bit
    return columns | {"failed": DetailColumn(failed, every), "skipped": DetailColumn(skipped, every)}


def cut_short(rule: Rule, landed: Landings) -> np.ndarray:
    """Of each landing whether its stretch ends before the rule has watched for long enough: judged early."""
    return landed.impact + watched(rule) >= landed.end


CheckColumns = tuple[np.ndarray, np.ndarray] | None
"""Whether a check passed, and whether it had data; None where it is off."""


def _totals(index: Index, landed: Landings) -> np.ndarray:
    return observed(index, landed, np.arange(len(landed.impact)))


def _after(index: Index, landed: Landings) -> np.ndarray:
    return rdiv(_totals(index, landed)[:3], np.maximum(landed.n, 1))


def _active(index: Index, rule: Rule, first: np.ndarray, landed: Landings,
            columns: dict[str, DetailColumn]) -> CheckColumns:
    if not rule.active_on:
        return None
    active = active_before(index, rule, first, landed.stretch)
    columns["q"] = DetailColumn(active, active >= 0)
    return active <= rule.active_most, active >= 0


def _turned(turned: Turn, cosine: int, names: tuple[str, str, str], columns: dict[str, DetailColumn]) -> CheckColumns:
    for name, values in zip(names, (turned.dot, turned.a_sq, turned.b_sq), strict=True):
        columns[name] = DetailColumn(values, turned.speaks)
    return turned.passes(cosine), turned.speaks


def _tilt(index: Index, rule: Rule, first: np.ndarray, landed: Landings,
          columns: dict[str, DetailColumn]) -> CheckColumns:
    if not rule.tilt_on:
        return None
    turned = turn(mean_before(index, rule, first, landed.stretch), _after(index, landed))
    return _turned(turned, rule.tilt_cosine, ("dot", "a_sq", "b_sq"), columns)


def _reclined(index: Index, rule: Rule, first: np.ndarray, landed: Landings,
              columns: dict[str, DetailColumn]) -> CheckColumns:
    if not rule.reclined_on:
        return None
    turned = turn(np.tile(np.array(rule.upright)[:, None], len(first)), _after(index, landed))
    return _turned(turned, rule.reclined_cosine, ("dot_u", "a_u_sq", "u_sq"), columns)


def _still(index: Index, rule: Rule, first: np.ndarray, landed: Landings,
           columns: dict[str, DetailColumn]) -> CheckColumns:
    if not rule.still_on:
        return None
    spread, known = spread_of(landed.n, _totals(index, landed)), landed.n > 0
    columns["spread"] = DetailColumn(spread, known)
    return spread <= (landed.n * rule.still) ** 2, known


CheckMaker = Callable[[Index, Rule, np.ndarray, Landings, dict[str, DetailColumn]], CheckColumns]
_CHECKS: dict[str, CheckMaker] = {"active": _active, "tilt": _tilt, "reclined": _reclined, "still": _still}

ALARM, NO_IMPACT, REJECTED, CUT_OFF = range(len(ENDS))
"""Codes of `ended`: places in ENDS."""


class Attempts:
    """Every attempt of a corpus under one rule, sorted by recording, then time.

    Columns (k,): `recording`; `ended`, a code; `impact`, a sample number within the recording, −1 without one.
    `columns` has all of an attempt's fields. Keeps the engine's index alive for them.
    """

    def __init__(self, case: EngineCase, reached: np.ndarray, alarm: np.ndarray) -> None:
        self.rule = case.rule
        self._case, self._reached, self._alarm = case, reached, alarm
        raised = case.way.landing[reached[alarm]]
        stretch = case.landed.stretch[raised]
        self.alarm_recording = case.index.recording[stretch]
        self.alarm_impact = case.landed.impact[raised] + case.index.to_sample[stretch]

    def __len__(self) -> int:
        return len(self._reached)

    def of(self, recording: int) -> range:
        """Which attempts are this recording's."""
        first, stop = np.searchsorted(self.recording, [recording, recording + 1]).tolist()
        return range(first, stop)

    @cached_property
    def recording(self) -> np.ndarray:
        index = self._case.index
        return index.recording[index.stretch_of(self._case.begun.first[self._reached])]

    @cached_property
    def ended(self) -> np.ndarray:
        begun = self._case.begun
        without = np.where(self._case.index.m2[begun.at[self._reached]] == END, CUT_OFF, NO_IMPACT)
        hit = begun.hit[self._reached]
        return np.where(self._alarm, ALARM, np.where(hit, REJECTED, without)).astype(np.uint8)

    @cached_property
    def impact(self) -> np.ndarray:
        case, impact = self._case, np.full(len(self), -1)
        hit = case.begun.hit[self._reached]
        landing = case.way.landing[self._reached[hit]]
        impact[hit] = case.landed.impact[landing] + case.index.to_sample[case.landed.stretch[landing]]
        return impact

    @cached_property
    def alarm_early(self) -> np.ndarray:
        """Of each alarm whether it was judged before its time, for want of signal."""
        case = self._case
        return cut_short(self.rule, rows_of(case.landed, case.way.landing[self._reached[self._alarm]]))

    @cached_property
    def columns(self) -> dict[str, DetailColumn]:
        """Every field of `Attempt` but `ended`, for all attempts: values, and where they are known.

        `failed` and `skipped` are bits, in the order of CHECKS.
        """
        return self._explain(np.arange(len(self)))

    def attempt(self, i: int) -> Attempt:
        """One attempt as the reference gives it."""
        if "columns" in self.__dict__:
            return _attempt(self.columns, int(self.ended[i]), i)
        return _attempt(self._explain(np.array([i])), int(self.ended[i]), 0)

    def _explain(self, which: np.ndarray) -> dict[str, DetailColumn]:
        """Columns of these attempts. From where the rule watched depends on how the attempt before ended."""
        case, before = self._case, np.maximum(which - 1, 0)
        previous = self._reached[before]
        watching = case.begun.at[previous] + 1
        hit = np.flatnonzero(case.begun.hit[previous])
        hold_off = np.where(self._alarm[before[hit]], self.rule.hold_off, 0)
        watching[hit] = resumes(case.landed, case.way.landing[previous[hit]], hold_off)
        watching[which == 0] = 0
        one = self._reached[which]
        return explain(case.index, self.rule, rows_of(case.begun, one), case.landed, case.way.landing[one], watching)


def _attempt(columns: dict[str, DetailColumn], ended: int, i: int) -> Attempt:
    fields = {name: int(column.values[i]) if column.known[i] else None for name, column in columns.items()}
    decided, early, failed, skipped = (
        fields.pop(name) or 0 for name in ("decided", "early", "failed", "skipped"))
    return Attempt(ENDS[ended], decided, bool(early), _checks(failed), _checks(skipped), **fields)


def _checks(bits: int) -> tuple[str, ...]:
    return tuple(check for bit, check in enumerate(CHECKS) if bits >> bit & 1)
