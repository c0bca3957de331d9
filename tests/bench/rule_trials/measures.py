"""What candidates measure: an integer at every place of a corpus, or over what was observed of an attempt.

Windows end with their stretch on either side: a device has forgotten what was before a gap.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from detect.engine.index import Index
from detect.engine.judge import rdiv
from tests.bench.rule_trials.trial_rules import TrialCase

OfStretch = Callable[[np.ndarray, np.ndarray], np.ndarray]
"""|v|² (n,) int64 and v (n, 3) int64 of a stretch to (n,) int64."""


def everywhere(index: Index, name: str, of: OfStretch, *by: int) -> np.ndarray:
    """(P,) int64 of every place, zero at an END; remembered under its name and what it was made by."""
    known = index.__dict__.setdefault("trial_measures", {})
    key = (name, *by)
    if key not in known:
        if len(known) > 40:
            known.clear()
        out = np.zeros(len(index.m2), dtype=np.int64)
        for stretch, (first, stop) in enumerate(zip(index.begin.tolist(), index.end.tolist(), strict=True)):
            v = index._v[first - stretch:stop - stretch].astype(np.int64)
            out[first:stop] = of(index.m2[first:stop].astype(np.int64), v)
        known[key] = out
    return known[key]


def summed_around(values: np.ndarray, before: int, after: int) -> np.ndarray:
    """Of (n,) values, at each t the sum over t − before … t + after, as far as there are any."""
    upto = np.concatenate(([0], np.cumsum(values)))
    at = np.arange(len(values))
    return upto[np.clip(at + after + 1, 0, len(values))] - upto[np.clip(at - before, 0, len(values))]


def largest_around(values: np.ndarray, before: int, after: int) -> np.ndarray:
    """The same with the largest, of values that are not below zero."""
    padded = np.concatenate((np.zeros(before, np.int64), values, np.zeros(after, np.int64)))
    return np.lib.stride_tricks.sliding_window_view(padded, before + after + 1).max(axis=1)


def duration_above(level: int, before: int, after: int) -> OfStretch:
    """How many samples reach `level`."""
    return lambda m2, v: summed_around(m2 >= level ** 2, before, after)


def area_above(level: int, before: int, after: int) -> OfStretch:
    """|v|² less level², summed where it is above."""
    return lambda m2, v: summed_around(np.maximum(m2 - level ** 2, 0), before, after)


def jerk(before: int, after: int) -> OfStretch:
    """The largest |v(t) − v(t−1)|²."""
    def of(m2: np.ndarray, v: np.ndarray) -> np.ndarray:
        change = np.diff(v, axis=0, prepend=v[:1])
        return largest_around((change * change).sum(axis=1), before, after)
    return of


def spread_of_axes(before: int, after: int) -> OfStretch:
    """The largest difference of two samples' readings on one axis."""
    def of(m2: np.ndarray, v: np.ndarray) -> np.ndarray:
        spans = []
        for axis in v.T:
            high, low = largest_around(axis + 2 ** 16, before, after), largest_around(2 ** 16 - axis, before, after)
            spans.append(high + low - 2 ** 17)
        return np.max(spans, axis=0)
    return of


def dip(level: int, window: int) -> OfStretch:
    """How many of the `window` samples before are below `level`, in a row or not."""
    return lambda m2, v: summed_around(m2 < level ** 2, window, -1)


def velocity_lost(one_g: int, window: int) -> OfStretch:
    """Σ (1 − |v|²/1 g²)/2 over the samples before, times one_g: near 1 g that is 1 g − |v|, without a root."""
    return lambda m2, v: summed_around((one_g ** 2 - m2) // (2 * one_g), window, -1)


def crossings(low: int, high: int) -> OfStretch:
    """1 where a sample leaves the band, 0 elsewhere, summed up to and with this place."""
    def of(m2: np.ndarray, v: np.ndarray) -> np.ndarray:
        outside = (m2 < low ** 2) | (m2 > high ** 2)
        return np.cumsum(outside & ~np.concatenate(([True], outside[:-1])))
    return of


def active(low: int, high: int) -> OfStretch:
    """Samples outside the band, summed up to and with this place."""
    return lambda m2, v: np.cumsum((m2 < low ** 2) | (m2 > high ** 2))


def at_impact(case: TrialCase, which: np.ndarray, measured: np.ndarray) -> np.ndarray:
    """What was measured at the impacts that these attempts rest at."""
    return measured[case.landed.impact[case.way.landing[which]]]


def over_observed(case: TrialCase, which: np.ndarray, upto: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Of running sums what was added while observing, and over how many samples."""
    landing = case.way.landing[which]
    last, n = case.landed.judged[landing], case.landed.n[landing]
    return upto[last] - np.where(n > 0, upto[last - n], upto[last]), n


def later_window(case: TrialCase, which: np.ndarray, delay: int) -> tuple[np.ndarray, np.ndarray]:
    """(4, k) sums of a second look, `delay` samples after the first one's end and as long; and its samples: none where
    the signal ends before."""
    landing = case.way.landing[which]
    judged, stretch = case.landed.judged[landing], case.landed.stretch[landing]
    last = np.minimum(judged + delay, case.landed.end[landing] - 1)
    n = np.minimum(case.rule.observe, last - judged)
    stop = last + 1 - stretch
    return case.index.sums.between(stop - n, stop), n


def mean(sums: np.ndarray, n: np.ndarray) -> np.ndarray:
    """(3, k) of (4, k) sums; zero where there is nothing."""
    return rdiv(sums[:3], np.maximum(n, 1))
