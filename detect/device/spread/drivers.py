"""Which tolerance drives the spread: one at a time, by rank correlation, by shares of the variance."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from detect.device.spread.outcomes import worst_first
from detect.device.spread.spread import TOLERANCES, Devices, Tolerance, columns
from detect.device.spread.tolerance import Tolerances
from detect.scoring.intervals import LEVEL, Interval, normal_quantile

LEAST_FOR_RANKS = 10
"""Devices; with fewer a rank correlation says nothing."""
RESAMPLES = 500

METHODS = {
    "alone": "the same devices with every other tolerance switched off: standard deviation of the figure, and its mean "
             "less the nominal device's",
    "ends": "one device at each bound, all else nominal: the worst of them",
    "rank": "Spearman's rank correlation over all devices, of each number drawn, of its size and of an axis triple's "
            "length the largest; interval on Fisher's scale with variance 1.06/(n − 3) (Fieller, Hartley and Pearson "
            "1957); within ± the chance level it is what the largest of so many would be by chance, 1 time in 20",
    "sobol": "shares of the variance, a tolerance's numbers taken together (Saltelli 2010, plain random pairs; scipy), "
             "with percentile bootstrap intervals; below 0 or above 1 is for want of pairs",
}
"""How each is made, in words to stand beside it."""


@dataclass(frozen=True)
class End:
    """A tolerance at its worst bound: which end, and the figure there."""

    words: str
    value: float


@dataclass(frozen=True)
class Alone:
    """A tolerance on its own: mean, standard deviation and worst of the figure over `devices`."""

    devices: int
    mean: float
    sd: float
    worst: float


@dataclass(frozen=True)
class Rank:
    """`of`: the number whose rank goes with the figure's, such as "offset_y" or "size of clock"."""

    of: str
    rho: float
    interval: Interval


@dataclass(frozen=True)
class Sobol:
    """Shares of the variance: on its own, and with all that it does together with others."""

    first: float
    first_interval: Interval
    total: float
    total_interval: Interval


@dataclass(frozen=True)
class Driver:
    """What one tolerance does to the figure; None where that was not looked at or has no data."""

    tolerance: str
    title: str
    end: End | None
    alone: Alone | None
    rank: Rank | None
    sobol: Sobol | None

    @property
    def weight(self) -> float:
        """What drivers are ranked by: the spread on its own, else the total share, else the correlation."""
        if self.alone is not None:
            return self.alone.sd
        if self.sobol is not None:
            return self.sobol.total
        return abs(self.rank.rho) if self.rank is not None else 0.0


def drivers(found: Tolerances, figure: str) -> tuple[Driver, ...]:
    """Every tolerance that is on, the strongest first."""
    on = [one for one in TOLERANCES if found.devices.only(one).values.any()]
    shares = sobol(found, figure, [one.name for one in on])
    made = [Driver(one.name, one.title, _end(found, figure, one.name), _alone(found, figure, one.name),
                   _rank(found, figure, one), shares.get(one.name)) for one in on]
    return tuple(sorted(made, key=lambda one: -one.weight))


def _end(found: Tolerances, figure: str, tolerance: str) -> End | None:
    if found.at_ends is None:
        return None
    mine = np.array([i for i, (name, _) in enumerate(found.ends) if name == tolerance], dtype=np.int64)
    if not len(mine):
        return None
    some = found.at_ends.some(mine)
    values, worst = some.figure(figure), int(worst_first(some, figure)[0])
    return None if np.isnan(values).any() else End(found.ends[int(mine[worst])][1], float(values[worst]))


def _alone(found: Tolerances, figure: str, tolerance: str) -> Alone | None:
    some = found.alone.get(tolerance)
    if some is None:
        return None
    values = some.figure(figure)
    if np.isnan(values).any():
        return None
    return Alone(len(values), float(values.mean()), float(values.std()), float(values[worst_first(some, figure)[0]]))


def candidates(devices: Devices, tolerance: Tolerance) -> Iterator[tuple[str, np.ndarray]]:
    """What of a tolerance could go with the figure: numbers drawn, their sizes, the length of three axes."""
    values = devices.values[:, columns(tolerance)]
    names = [name for name, _ in tolerance.parameters]
    if tolerance.name == "temperature":  # neither means a thing without the other
        values, names = values[:, 1:] * values[:, :1], [f"{name} × temperature" for name in names[1:]]
    for name, value in zip(names, values.T, strict=True):
        yield name, value
        if tolerance.name not in ("noise", "moment"):
            yield f"size of {name}", np.abs(value)
    if values.shape[1] == 3:
        yield f"length of {tolerance.name}", np.sqrt((values * values).sum(axis=1))


def _rank(found: Tolerances, figure: str, tolerance: Tolerance) -> Rank | None:
    from scipy.stats import spearmanr  # slow to load

    values = found.outcomes.figure(figure)
    n = len(values)
    if n < LEAST_FOR_RANKS or np.isnan(values).any() or np.ptp(values) == 0:
        return None
    best = Rank("", 0.0, Interval(0.0, 0.0))
    for name, drawn in candidates(found.devices.some(slice(n)), tolerance):
        if np.ptp(drawn) == 0:
            continue
        rho = float(spearmanr(drawn, values).statistic)
        if abs(rho) > abs(best.rho):
            best = Rank(name, rho, _rank_interval(rho, n))
    return best if best.of else None


def _rank_interval(rho: float, n: int) -> Interval:
    reach = normal_quantile(LEVEL) * math.sqrt(1.06 / (n - 3))
    middle = math.atanh(max(min(rho, 1 - 1e-12), -1 + 1e-12))
    return Interval(math.tanh(middle - reach), math.tanh(middle + reach))


def chance_level(found: Tolerances) -> float | None:
    """The size that the largest of all rank correlations has by chance one time in 20 (Bonferroni's bound)."""
    n = len(found.outcomes)
    if n < LEAST_FOR_RANKS:
        return None
    looked_at = sum(1 for one in TOLERANCES for _, value in candidates(found.devices, one) if np.ptp(value) > 0)
    if not looked_at:
        return None
    return math.tanh(normal_quantile(1 - 0.05 / looked_at) * math.sqrt(1.06 / (n - 3)))


def sobol(found: Tolerances, figure: str, names: list[str]) -> dict[str, Sobol]:
    """By tolerance; empty where none were asked for, or the figure never moved."""
    if not found.pairs:
        return {}
    values = np.array([one.figure(figure) for one in found.pairs])
    if np.isnan(values).any() or np.ptp(values[:2]) == 0:
        return {}
    rng = np.random.default_rng(np.random.SeedSequence(found.wanted.seed, spawn_key=(_BOOTSTRAP,)))
    n = values.shape[1]
    again = np.array([_shares(values[:, rng.integers(0, n, n)]) for _ in range(RESAMPLES)])
    low, high = np.nanquantile(again, ((1 - LEVEL) / 2, (1 + LEVEL) / 2), axis=0).tolist()
    first, total = _shares(values).tolist()
    return {name: Sobol(first[i], Interval(low[0][i], high[0][i]), total[i], Interval(low[1][i], high[1][i]))
            for i, name in enumerate(names)}


def _shares(values: np.ndarray) -> np.ndarray:
    """(2, tolerances): first and total shares, of (2 + tolerances, pairs): A, B, A with each tolerance of B."""
    from scipy.stats import sobol_indices  # slow to load

    given = {"f_A": values[:1], "f_B": values[1:2], "f_AB": values[2:, None, :]}
    with np.errstate(invalid="ignore", divide="ignore"):  # all pairs drawn may be alike
        made = sobol_indices(func=given, n=values.shape[1])
    return np.array([np.ravel(made.first_order), np.ravel(made.total_order)])


_BOOTSTRAP = 4
"""The stream of what the bootstrap draws."""
