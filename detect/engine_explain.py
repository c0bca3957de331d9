"""Every measured value of attempts that happened: computed for those that somebody looks at."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from detect.attempt import CHECKS
from detect.engine_index import Index, rdiv
from detect.engine_judge import Turn, spread_of, turn
from detect.engine_stages import CUT_OFF, HIT, Landings, Trail, before, busy
from detect.rule import Rule


@dataclass(frozen=True, eq=False)
class Column:
    """int64 or bool `values`, meaningful only where `known`."""

    values: np.ndarray
    known: np.ndarray


def explain(index: Index, rule: Rule, trail: Trail, landed: Landings, which: np.ndarray) -> dict[str, Column]:
    """Columns of the attempts `which`, named as the fields of `Attempt`; checks are bits, in the order of CHECKS."""
    trail = Trail(*(getattr(trail, name)[which] for name in Trail.__dataclass_fields__))
    stretch = index.stretch_of(trail.first)
    hit = trail.kind == HIT
    every = np.ones(len(which), dtype=bool)
    columns = _primed(index, rule, trail, stretch)
    columns |= {name: Column(np.zeros(len(which), dtype=np.int64), ~every) for name in _AFTER_IMPACT}
    columns["decided"] = Column(trail.at - (trail.kind == CUT_OFF) + index.to_sample[stretch], every)
    columns |= {name: Column(np.zeros(len(which), dtype=np.int64), every) for name in ("early", "failed", "unspoken")}
    where = np.flatnonzero(hit)
    for name, column in _judged(index, rule, trail.first[where], _taken(landed, trail.landing[where])).items():
        columns[name].values[where] = column.values
        columns[name].known[where] = column.known
    return columns


_AFTER_IMPACT = ("first_impact", "impact", "restarts", "peak", "q", "n", "dot", "a_sq", "b_sq", "dot_u", "a_u_sq",
                 "u_sq", "spread")


def _taken(landed: Landings, which: np.ndarray) -> Landings:
    return Landings(*(getattr(landed, name)[which] for name in Landings.__dataclass_fields__))


def _primed(index: Index, rule: Rule, trail: Trail, stretch: np.ndarray) -> dict[str, Column]:
    """What belongs to free fall; null without it."""
    known = np.full(len(stretch), rule.free_fall_on)
    to_sample = index.to_sample[stretch]
    primed = np.maximum(trail.watched, trail.first + rule.free_fall_run - 1)
    stop = trail.at + (trail.kind != CUT_OFF)  # one past the last sample processed in PRIMED
    lowest = _over(index.m2, trail.first, stop, np.minimum) if rule.free_fall_on else stop
    stop = stop - (trail.kind == HIT)
    some = known & (stop > primed + 1)
    highest = np.zeros(len(stop), dtype=np.int64)
    highest[some] = _over(index.m2, primed[some] + 1, stop[some], np.maximum)
    return {"first_low": Column(trail.first + to_sample, known), "last_low": Column(trail.last_low + to_sample, known),
            "lowest": Column(lowest, known), "highest": Column(highest, some)}


def _over(m2: np.ndarray, first: np.ndarray, stop: np.ndarray, what: np.ufunc) -> np.ndarray:
    """`what` reduced over the places from each first up to its stop, none empty."""
    lengths = stop - first
    starts = np.cumsum(lengths) - lengths
    if not len(first):
        return np.zeros(0, dtype=np.int64)
    places = np.arange(int(lengths.sum())) + np.repeat(first - starts, lengths)
    return np.asarray(what.reduceat(m2[places], starts)).astype(np.int64)


def _judged(index: Index, rule: Rule, first: np.ndarray, landed: Landings) -> dict[str, Column]:
    """What belongs to impact and judging, for attempts that got there."""
    every = np.ones(len(first), dtype=bool)
    to_sample = index.to_sample[landed.stretch]
    settled = np.minimum(landed.impact + rule.settle, landed.judged)
    columns = {
        "first_impact": Column(landed.first_impact + to_sample, every),
        "impact": Column(landed.impact + to_sample, every),
        "restarts": Column(landed.restarts, every),
        "peak": Column(_over(index.m2, landed.impact, settled + 1, np.maximum), every),
        "decided": Column(landed.judged + to_sample, every),
        "early": Column(landed.early, every),
        "n": Column(landed.n, every & rule.observes),
    }
    failed = np.zeros(len(first), dtype=np.int64)
    unspoken = np.zeros(len(first), dtype=np.int64)
    for bit, check in enumerate(CHECKS):
        spoke = _SPEAK[check](index, rule, first, landed, columns)
        if spoke is not None:
            passed, speaks = spoke
            failed |= (speaks & ~passed).astype(np.int64) << bit
            unspoken |= (~speaks).astype(np.int64) << bit
    return columns | {"failed": Column(failed, every), "unspoken": Column(unspoken, every)}


Spoke = tuple[np.ndarray, np.ndarray] | None
"""Whether a check passed, and whether it could speak; None where it is off."""


def _totals(index: Index, landed: Landings) -> np.ndarray:
    stop = landed.judged + 1
    return index.sums(stop - landed.n, stop, landed.stretch)


def _after(index: Index, landed: Landings) -> np.ndarray:
    return rdiv(_totals(index, landed)[:, :3], np.maximum(landed.n, 1)[:, None])


def _busy(index: Index, rule: Rule, first: np.ndarray, landed: Landings, columns: dict[str, Column]) -> Spoke:
    if not rule.busy_on:
        return None
    vigorous, known = busy(index, rule, first, landed.stretch)
    columns["q"] = Column(vigorous, known)
    return vigorous <= rule.busy_most, known


def _turned(turned: Turn, cosine: int, names: tuple[str, str, str], columns: dict[str, Column]) -> Spoke:
    for name, values in zip(names, (turned.dot, turned.a_sq, turned.b_sq), strict=True):
        columns[name] = Column(values, turned.speaks)
    return turned.passes(cosine), turned.speaks


def _tilt(index: Index, rule: Rule, first: np.ndarray, landed: Landings, columns: dict[str, Column]) -> Spoke:
    if not rule.tilt_on:
        return None
    turned = turn(before(index, rule, first, landed.stretch), _after(index, landed))
    return _turned(turned, rule.tilt_cosine, ("dot", "a_sq", "b_sq"), columns)


def _reclined(index: Index, rule: Rule, first: np.ndarray, landed: Landings, columns: dict[str, Column]) -> Spoke:
    if not rule.reclined_on:
        return None
    turned = turn(np.tile(np.array(rule.upright), (len(first), 1)), _after(index, landed))
    return _turned(turned, rule.reclined_cosine, ("dot_u", "a_u_sq", "u_sq"), columns)


def _still(index: Index, rule: Rule, first: np.ndarray, landed: Landings, columns: dict[str, Column]) -> Spoke:
    if not rule.still_on:
        return None
    spread, known = spread_of(landed.n, _totals(index, landed)), landed.n > 0
    columns["spread"] = Column(spread, known)
    return spread <= landed.n ** 2 * rule.still ** 2, known


Speaker = Callable[[Index, Rule, np.ndarray, Landings, dict[str, Column]], Spoke]
_SPEAK: dict[str, Speaker] = {"busy": _busy, "tilt": _tilt, "reclined": _reclined, "still": _still}
