"""How far a figure from so many trials can be trusted. None without trials: no data is not zero."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

LEVEL = 0.95


@dataclass(frozen=True)
class Interval:
    """From `low` to `high`, both included."""

    low: float
    high: float


@dataclass(frozen=True)
class Estimate:
    """A figure and the interval around it."""

    value: float
    low: float
    high: float


def wilson(hits: int, trials: int, level: float = LEVEL) -> Interval | None:
    """Score interval for a proportion (Wilson 1927; Newcombe 1998, Stat. in Medicine 17:857, method 3)."""
    if trials == 0:
        return None
    z = normal_quantile(level)
    p = hits / trials
    middle = p + z * z / (2 * trials)
    reach = z * math.sqrt(p * (1 - p) / trials + z * z / (4 * trials * trials))
    scale = 1 + z * z / trials
    # With no hit, or no miss, the bound is 0 or 1 exactly; rounding would leave a crumb.
    return Interval(0.0 if hits == 0 else (middle - reach) / scale,
                    1.0 if hits == trials else (middle + reach) / scale)


def clopper_pearson(hits: int, trials: int, level: float = LEVEL) -> Interval | None:
    """Exact interval for a proportion: covers at least as often as it says (Clopper and Pearson 1934)."""
    if trials == 0:
        return None
    from scipy.special import betaincinv  # slow to load; the window opens before it is needed

    tail = (1 - level) / 2
    misses = trials - hits
    return Interval(0.0 if hits == 0 else float(betaincinv(hits, misses + 1, tail)),
                    1.0 if misses == 0 else float(betaincinv(hits + 1, misses, 1 - tail)))


def garwood(count: int, exposure: float = 1.0, level: float = LEVEL) -> Interval | None:
    """Exact interval for a rate, `count` Poisson events in `exposure` (Garwood 1936, Biometrika 28:437)."""
    if exposure <= 0:
        return None
    from scipy.special import gammaincinv

    tail = (1 - level) / 2
    low = 0.0 if count == 0 else float(gammaincinv(count, tail))
    return Interval(low / exposure, float(gammaincinv(count + 1, 1 - tail)) / exposure)


def proportion(hits: int, trials: int, level: float = LEVEL) -> Estimate | None:
    """A proportion with its Wilson interval."""
    interval = wilson(hits, trials, level)
    return None if interval is None else Estimate(hits / trials, interval.low, interval.high)


def rate(count: int, exposure: float, level: float = LEVEL) -> Estimate | None:
    """A rate with its Garwood interval."""
    interval = garwood(count, exposure, level)
    return None if interval is None else Estimate(count / exposure, interval.low, interval.high)


def difference(hits: int, trials: int, other_hits: int, other_trials: int,
               level: float = LEVEL) -> Estimate | None:
    """Difference of two independent proportions with the hybrid score interval (Newcombe 1998, Statistics in
    Medicine 17:873, method 10): the two Wilson intervals, put together as distances."""
    one, two = proportion(hits, trials, level), proportion(other_hits, other_trials, level)
    if one is None or two is None:
        return None
    d = one.value - two.value
    return Estimate(d, d - math.hypot(one.value - one.low, two.high - two.value),
                    d + math.hypot(one.high - one.value, two.value - two.low))


@dataclass(frozen=True)
class McNemar:
    """Two-sided p of a paired comparison. `exact` is the conditional binomial test, `mid` its mid-p."""

    exact: float
    mid: float


def mcnemar(only_first: int, only_second: int) -> McNemar | None:
    """Did two detectors differ on the same events? From the events that only one of them got right.

    Mid-p counts half of the outcomes just as extreme (Fagerland, Lydersen and Laake 2013, BMC Medical
    Research Methodology 13:91). None where they never differed.
    """
    n, fewer = only_first + only_second, min(only_first, only_second)
    if n == 0:
        return None
    as_extreme = math.comb(n, fewer) / 2 ** n
    if only_first == only_second:
        return McNemar(1.0, 1.0 - as_extreme / 2)
    from scipy.special import bdtr

    exact = 2 * float(bdtr(fewer, n, 0.5))
    return McNemar(exact, exact - as_extreme)


def falls_without_a_miss(sensitivity: float, level: float = LEVEL, sides: int = 2) -> int:
    """How many falls, all caught, show a sensitivity of at least this (exact binomial).

    `sides` 2: the lower end of the two-sided Clopper–Pearson interval; 1: a one-sided bound.
    """
    tail = (1 - level) / sides
    n = max(math.ceil(math.log(tail) / math.log(sensitivity)), 1)
    return n if sensitivity ** n <= tail else n + 1


def precision_in_use(sensitivity: float, days_between_falls: float, false_alarms_a_day: float) -> float:
    """The share of alarms that are falls when falls are as rare as they are in life."""
    caught_a_day = sensitivity / days_between_falls
    return caught_a_day / (caught_a_day + false_alarms_a_day)


@dataclass(frozen=True)
class ByPeople:
    """Intervals by resampling people; None where no draw had data, and where all trials are of one person: that is no
    interval. `with_falls`, `with_others`: how many people had a trial of the kind."""

    sensitivity: Interval | None
    specificity: Interval | None
    youden_j: Interval | None
    with_falls: int = 0
    with_others: int = 0

    def trials_of(self, name: str) -> int:
        """How many people had trials of what a figure is made from."""
        return {"sensitivity": self.with_falls, "specificity": self.with_others}.get(
            name, min(self.with_falls, self.with_others))


class People:
    """Cluster bootstrap by people: trials of one person are not independent, so whole people are drawn.

    The draws are made once, by NumPy's default generator from `seed`, so that they serve at every move of a
    slider and two settings are compared on the same draws. Percentile intervals; draws without a fall, or
    without another activity, say nothing of the figure that needs them and are left out of it. With few
    people the intervals are rather too narrow, and where everybody agrees they are a point: they stand
    beside the simple ones.
    """

    def __init__(self, people: int, seed: int = 0, draws: int = 2000) -> None:
        self.people, self.seed, self.draws = people, seed, draws
        rng = np.random.default_rng(seed)
        if people > 1:
            self._weights = rng.multinomial(people, np.full(people, 1 / people), size=draws).astype(float)

    def intervals(self, counts: np.ndarray, level: float = LEVEL) -> ByPeople | None:
        """From (people, 4) counts of caught, missed, false alarm, quiet; None with fewer than two people."""
        if self.people < 2:
            return None
        tp, fn, fp, tn = (self._weights @ counts.astype(float)).T
        sensitivity, specificity = _ratio(tp, tp + fn), _ratio(tn, tn + fp)
        falls, others = (int(np.count_nonzero(counts[:, at:at + 2].sum(axis=1))) for at in (0, 2))
        return ByPeople(_percentiles(sensitivity, level) if falls > 1 else None,
                        _percentiles(specificity, level) if others > 1 else None,
                        _percentiles(sensitivity + specificity - 1, level) if min(falls, others) > 1 else None,
                        falls, others)


def _ratio(part: np.ndarray, whole: np.ndarray) -> np.ndarray:
    return np.divide(part, whole, out=np.full(len(whole), np.nan), where=whole > 0)


def _percentiles(draws: np.ndarray, level: float) -> Interval | None:
    valid = draws[~np.isnan(draws)]
    if len(valid) == 0:
        return None
    low, high = np.quantile(valid, [(1 - level) / 2, (1 + level) / 2])
    return Interval(float(low), float(high))


def normal_quantile(level: float) -> float:
    """How many standard deviations either way hold this share of a normal distribution."""
    return NormalDist().inv_cdf((1 + level) / 2)
