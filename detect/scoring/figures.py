"""The figures of a score, each with its interval, or None where there are no data for it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from detect.scoring.intervals import (
    LEVEL,
    Estimate,
    Interval,
    clopper_pearson,
    difference,
    normal_quantile,
    proportion,
    rate,
)
from detect.scoring.score import CAUGHT, FALSE_ALARM, MISSED, OUTCOMES, QUIET, SETTINGS, Events, Matrix, Score

METHODS = {
    "sensitivity": "Wilson score interval; the exact one is Clopper–Pearson",
    "specificity": "Wilson score interval; the exact one is Clopper–Pearson",
    "precision": "Wilson score interval; the exact one is Clopper–Pearson",
    "f1": "Wilson score interval of TP/(TP+FP+FN), carried over",
    "mcc": "delta method on Fisher's scale",
    "youden_j": "Newcombe's hybrid score interval of sensitivity less false-alarm share",
    "unlabelled": "Garwood's exact Poisson interval",
}
"""How each interval is made, in words to stand beside it."""


@dataclass(frozen=True)
class UnlabelledAlarmRate:
    """Alarms in unlabelled time; `caution` says why the rate may mislead, empty where it doesn't."""

    setting: str
    alarms: int
    hours: float
    per_hour: Estimate | None
    per_24h: Estimate | None
    caution: str


CAUTIONS = {
    "staged": "Staged activities say little about a day: this rate is not what a wearer would see.",
    "free-living": "",
    "": "Nobody said whether these recordings are staged: this rate may not be what a wearer would see.",
}


@dataclass(frozen=True)
class Figures:
    """Figures with 95 % intervals; `_exact` beside the proportions. How they are made stands in METHODS."""

    matrix: Matrix
    sensitivity: Estimate | None
    specificity: Estimate | None
    precision: Estimate | None
    sensitivity_exact: Interval | None
    specificity_exact: Interval | None
    precision_exact: Interval | None
    f1: Estimate | None
    mcc: Estimate | None
    youden_j: Estimate | None
    unlabelled: tuple[UnlabelledAlarmRate, ...]

    @property
    def unlabelled_alarms(self) -> int:
        return sum(one.alarms for one in self.unlabelled)


def figures(found: Score) -> Figures:
    """All figures of a score; rates of unlabelled alarms for each of SETTINGS in turn."""
    unlabelled = tuple(unlabelled_alarm_rate(setting, alarms, hours) for setting, alarms, hours
                   in zip(SETTINGS, found.unlabelled, found.unlabelled_hours, strict=True))
    return figures_of(found.matrix, unlabelled)


def figures_of(m: Matrix, unlabelled: tuple[UnlabelledAlarmRate, ...] = ()) -> Figures:
    """The figures of any matrix: a person's, an activity's, a fold's."""
    falls, others, alarms = m.tp + m.fn, m.fp + m.tn, m.tp + m.fp
    return Figures(
        m,
        proportion(m.tp, falls), proportion(m.tn, others), proportion(m.tp, alarms),
        clopper_pearson(m.tp, falls), clopper_pearson(m.tn, others), clopper_pearson(m.tp, alarms),
        f1(m), mcc(m), difference(m.tp, falls, m.fp, others), unlabelled)


def unlabelled_alarm_rate(setting: str, alarms: int, hours: float) -> UnlabelledAlarmRate:
    return UnlabelledAlarmRate(setting, alarms, hours, rate(alarms, hours), rate(alarms, hours / 24), CAUTIONS[setting])


def f1(m: Matrix) -> Estimate | None:
    """Harmonic mean of precision and sensitivity: it rises with TP/(TP+FP+FN), which is a proportion."""
    share = proportion(m.tp, m.tp + m.fp + m.fn)
    if share is None:
        return None
    return Estimate(_f1_of(share.value), _f1_of(share.low), _f1_of(share.high))


def _f1_of(share: float) -> float:
    return 2 * share / (1 + share)


def mcc(m: Matrix, level: float = LEVEL) -> Estimate | None:
    """Matthews' correlation; None where a row or column is empty.

    Interval: delta method over the four cells on Fisher's scale. Where a cell is empty, half a trial is added
    to each for the spread, else a perfect table would be sure of itself (common practice, no source).
    """
    value = _correlation(m.tp, m.fn, m.fp, m.tn)
    if value is None:
        return None
    extra = 0.0 if min(m.tp, m.fn, m.fp, m.tn) else 0.5
    tp, fn, fp, tn = m.tp + extra, m.fn + extra, m.fp + extra, m.tn + extra
    centre = _correlation(tp, fn, fp, tn)
    assert centre is not None
    falls, alarms, others, quiet = tp + fn, tp + fp, fp + tn, fn + tn
    root, half = math.sqrt(falls * alarms * others * quiet), centre / 2
    slopes = ((tp, tn / root - half * (1 / falls + 1 / alarms)),
              (fn, -fp / root - half * (1 / falls + 1 / quiet)),
              (fp, -fn / root - half * (1 / alarms + 1 / others)),
              (tn, tp / root - half * (1 / others + 1 / quiet)))
    # The correlation doesn't change when all cells grow alike, so the multinomial's cross terms cancel.
    spread = math.sqrt(sum(cell * slope ** 2 for cell, slope in slopes)) / (1 - centre ** 2)
    reach = normal_quantile(level) * spread
    return Estimate(value, min(math.tanh(math.atanh(centre) - reach), value),
                    max(math.tanh(math.atanh(centre) + reach), value))


def _correlation(tp: float, fn: float, fp: float, tn: float) -> float | None:
    margins = (tp + fn) * (tp + fp) * (tn + fp) * (tn + fn)
    return None if margins == 0 else (tp * tn - fp * fn) / math.sqrt(margins)


def kappa(m: Matrix) -> float | None:
    """Cohen's kappa; None where chance alone would agree on everything, or nothing was tried."""
    n = m.tp + m.fn + m.fp + m.tn
    if n == 0:
        return None
    by_chance = ((m.tp + m.fn) * (m.tp + m.fp) + (m.fp + m.tn) * (m.fn + m.tn)) / (n * n)
    return None if by_chance == 1 else ((m.tp + m.tn) / n - by_chance) / (1 - by_chance)


@dataclass(frozen=True, eq=False)
class Latency:
    """Of every caught fall: `event`, and seconds from its impact and from its labelled onset to the alarm."""

    event: np.ndarray
    since_impact_s: np.ndarray
    since_onset_s: np.ndarray


def latency(found: Score, alarm_impact: np.ndarray, alarm_decided: np.ndarray, events: Events,
            rate_hz: float) -> Latency:
    """How late alarms come; of several alarms of one fall the first counts. Columns, in samples."""
    mine = np.flatnonzero(found.event >= 0)
    mine = mine[events.is_fall[found.event[mine]]]
    mine = mine[np.lexsort((alarm_decided[mine], found.event[mine]))]
    event, first = np.unique(found.event[mine], return_index=True)
    alarm = mine[first]
    return Latency(event, (alarm_decided[alarm] - alarm_impact[alarm]) / rate_hz,
                   (alarm_decided[alarm] - events.onset[event]) / rate_hz)


def counts_by(group: np.ndarray, outcome: np.ndarray, groups: int) -> np.ndarray:
    """(groups, 4) counts of caught, missed, false alarm, quiet; `group` numbers each event's person."""
    flat = np.bincount(group * len(OUTCOMES) + outcome, minlength=groups * len(OUTCOMES))
    return flat.reshape(groups, len(OUTCOMES))[:, [CAUGHT, MISSED, FALSE_ALARM, QUIET]]
