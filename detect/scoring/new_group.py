"""What to expect of people nobody has recorded yet: an interval for the figures of a new group, from how people who
were left out of the search came out.

An interval for a mean says how well the average over all people is known. A new group of a few people departs from that
average by itself, so its interval is wider, however many people were recorded.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from detect.scoring.intervals import LEVEL, Interval

PSEUDO = 2
"""Trials of each kind that are added to a share, as Agresti and Coull 1998 (The American Statistician 52:119) do for a
proportion: where nobody was missed, the next one still can be."""
KNOWN = 1
"""Degrees of freedom that the floor under the variance is worth: a choice of ours, held by simulation."""


@dataclass(frozen=True)
class NewGroup:
    """Prediction intervals for a group of so many `people` of the same kind, with as many trials each; None where
    fewer than two people had trials of the kind. `spread_…`: standard deviation of a single person's figure."""

    people: int
    sensitivity: Interval | None
    specificity: Interval | None
    youden_j: Interval | None
    spread_sensitivity: float | None
    spread_specificity: float | None
    spread_youden_j: float | None


def new_group(cells: np.ndarray, people: int, searched: np.ndarray | None = None, level: float = LEVEL) -> NewGroup:
    """`cells`: (P, 4) of each person left out tp, fn, fp, tn. `searched`: (n, 2) falls caught and false alarms on
    people left out by each of n searches alone: how far one search's settings differ from another's adds to the spread.

    The variance of a group's ratio is that of one person's share in it, over the group; that of the estimate the same
    over those recorded (ratio estimator, Cochran 1977, Sampling Techniques, ch. 6); both together with Student's t of
    P − 1 + KNOWN degrees of freedom. The variance is never taken for less than the binomial one with PSEUDO trials
    added: people who all came out alike don't show that others would.
    """
    tp, fn, fp, tn = (cells[:, at].astype(float) for at in range(4))
    caught = _share(tp, tp + fn, None if searched is None else searched[:, 0])
    quiet = _share(tn, fp + tn, None if searched is None else (fp + tn).sum() - searched[:, 1])
    one, other = (_predicted(of, 0.0, 1.0, people, level) for of in (caught, quiet))
    both = None if caught is None or quiet is None else _Share(
        caught.value + quiet.value - 1, caught.centre + quiet.centre - 1, caught.variance + quiet.variance,
        caught.between + quiet.between, min(caught.trials, quiet.trials))
    return NewGroup(people, one, other, _predicted(both, -1.0, 1.0, people, level),
                    _spread(caught), _spread(quiet), _spread(both))


@dataclass(frozen=True)
class _Share:
    """A ratio over all people, and the same with PSEUDO trials added; the variance of one person's share in it, that
    between searches, and how many people had trials."""

    value: float
    centre: float
    variance: float
    between: float
    trials: int


def _share(hits: np.ndarray, trials: np.ndarray, searched: np.ndarray | None) -> _Share | None:
    had = trials > 0
    people = int(had.sum())
    if people < 2:
        return None
    hits, trials = hits[had], trials[had]
    total = float(trials.sum())
    value, centre = float(hits.sum()) / total, (float(hits.sum()) + PSEUDO) / (total + 2 * PSEUDO)
    apart = people * (hits - value * trials) / total
    binomial = centre * (1 - centre) * people / total
    variance = max(float((apart ** 2).sum()) / (people - 1), binomial)
    between = 0.0 if searched is None or len(searched) < 2 else float(np.var(searched / total, ddof=1))
    return _Share(value, centre, variance, between, people)


def _spread(of: _Share | None) -> float | None:
    return None if of is None else math.sqrt(of.variance)


def _predicted(of: _Share | None, low: float, high: float, people: int, level: float) -> Interval | None:
    if of is None:
        return None
    from scipy.special import stdtrit  # slow to load

    reach = float(stdtrit(of.trials - 1 + KNOWN, (1 + level) / 2)) * math.sqrt(
        of.variance * (1 / of.trials + 1 / people) + of.between)
    # The figure varies about the middle of value and centre; the value itself is never left outside.
    return Interval(max(min(of.centre - reach, of.value), low), min(max(of.centre + reach, of.value), high))
