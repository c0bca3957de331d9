"""Every measured value of attempts that happened: computed for those that somebody looks at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from detect.attempt import CHECKS
from detect.engine_index import Index
from detect.engine_judge import Turn, rdiv, spread_of, turn
from detect.engine_places import END
from detect.engine_stages import Candidates, Landings, mean_before, observed, taken, vigorous_before, watched
from detect.rule import Rule


@dataclass(frozen=True, eq=False)
class Column:
    """int64 or bool `values`, meaningful only where `known`."""

    values: np.ndarray
    known: np.ndarray


AFTER_IMPACT = ("first_impact", "impact", "restarts", "peak", "q", "n", "dot", "a_sq", "b_sq", "dot_u", "a_u_sq",
                "u_sq", "spread")


def explain(index: Index, rule: Rule, begun: Candidates, landed: Landings, landing: np.ndarray,
            watching: np.ndarray) -> dict[str, Column]:
    """Columns named as the fields of `Attempt`, one row for each that began, landed as `landing`, and `watching` since
    which place; checks are bits, in the order of CHECKS."""
    size = len(begun.first)
    stretch = index.stretch_of(begun.first)
    every = np.ones(size, dtype=bool)
    cut_off = ~begun.hit & (index.m2[begun.at] == END)
    columns = _primed(index, rule, begun, cut_off, watching, stretch)
    columns |= {name: Column(np.zeros(size, dtype=np.int64), ~every) for name in AFTER_IMPACT}
    columns["decided"] = Column(begun.at - cut_off + index.to_sample[stretch], every)
    columns |= {name: Column(np.zeros(size, dtype=np.int64), every) for name in ("early", "failed", "unspoken")}
    hits = np.flatnonzero(begun.hit)
    for name, column in _judged(index, rule, taken(begun, hits), taken(landed, landing[hits])).items():
        columns[name].values[hits] = column.values
        columns[name].known[hits] = column.known
    return columns


def _primed(index: Index, rule: Rule, begun: Candidates, cut_off: np.ndarray, watching: np.ndarray,
            stretch: np.ndarray) -> dict[str, Column]:
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
    return {"first_low": Column(begun.first + to_sample, known),
            "last_low": Column(begun.last_low + to_sample, known),
            "lowest": Column(lowest, known), "highest": Column(highest, some)}


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


def _judged(index: Index, rule: Rule, begun: Candidates, landed: Landings) -> dict[str, Column]:
    """What belongs to impact and judging, for attempts that got there."""
    every = np.ones(len(begun.first), dtype=bool)
    to_sample = index.to_sample[landed.stretch]
    settled = np.minimum(landed.impact + rule.settle, landed.judged)
    columns = {
        "first_impact": Column(begun.at + to_sample, every),
        "impact": Column(landed.impact + to_sample, every),
        "restarts": Column(_restarts(index.m2, begun.at, landed.impact), every),
        "peak": Column(_over(index.m2, landed.impact, settled + 1, np.maximum), every),
        "decided": Column(landed.judged + to_sample, every),
        "early": Column(landed.impact + watched(rule) >= landed.end, every),
        "n": Column(landed.n, every & rule.observes),
    }
    failed = np.zeros(len(every), dtype=np.int64)
    unspoken = np.zeros(len(every), dtype=np.int64)
    for bit, check in enumerate(CHECKS):
        spoke = _SPEAK[check](index, rule, begun.first, landed, columns)
        if spoke is not None:
            passed, speaks = spoke
            failed |= (speaks & ~passed).astype(np.int64) << bit
            unspoken |= (~speaks).astype(np.int64) << bit
    return columns | {"failed": Column(failed, every), "unspoken": Column(unspoken, every)}


Spoke = tuple[np.ndarray, np.ndarray] | None
"""Whether a check passed, and whether it could speak; None where it is off."""


def _totals(index: Index, landed: Landings) -> np.ndarray:
    return observed(index, landed, np.arange(len(landed.impact)))


def _after(index: Index, landed: Landings) -> np.ndarray:
    return rdiv(_totals(index, landed)[:3], np.maximum(landed.n, 1))


def _busy(index: Index, rule: Rule, first: np.ndarray, landed: Landings, columns: dict[str, Column]) -> Spoke:
    if not rule.busy_on:
        return None
    vigorous = vigorous_before(index, rule, first, landed.stretch)
    columns["q"] = Column(vigorous, vigorous >= 0)
    return vigorous <= rule.busy_most, vigorous >= 0


def _turned(turned: Turn, cosine: int, names: tuple[str, str, str], columns: dict[str, Column]) -> Spoke:
    for name, values in zip(names, (turned.dot, turned.a_sq, turned.b_sq), strict=True):
        columns[name] = Column(values, turned.speaks)
    return turned.passes(cosine), turned.speaks


def _tilt(index: Index, rule: Rule, first: np.ndarray, landed: Landings, columns: dict[str, Column]) -> Spoke:
    if not rule.tilt_on:
        return None
    turned = turn(mean_before(index, rule, first, landed.stretch), _after(index, landed))
    return _turned(turned, rule.tilt_cosine, ("dot", "a_sq", "b_sq"), columns)


def _reclined(index: Index, rule: Rule, first: np.ndarray, landed: Landings,
              columns: dict[str, Column]) -> Spoke:
    if not rule.reclined_on:
        return None
    turned = turn(np.tile(np.array(rule.upright)[:, None], len(first)), _after(index, landed))
    return _turned(turned, rule.reclined_cosine, ("dot_u", "a_u_sq", "u_sq"), columns)


def _still(index: Index, rule: Rule, first: np.ndarray, landed: Landings, columns: dict[str, Column]) -> Spoke:
    if not rule.still_on:
        return None
    spread, known = spread_of(landed.n, _totals(index, landed)), landed.n > 0
    columns["spread"] = Column(spread, known)
    return spread <= (landed.n * rule.still) ** 2, known


Speaker = Callable[[Index, Rule, np.ndarray, Landings, dict[str, Column]], Spoke]
_SPEAK: dict[str, Speaker] = {"busy": _busy, "tilt": _tilt, "reclined": _reclined, "still": _still}
