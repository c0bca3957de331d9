"""The straight lines of stamp against sample number, one for each stretch between gaps, with one step for all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from data.problem import Problem
from data.recordings.model import Stretch

BURST_GAP_S = 0.150
"""Bursts: stamps that leave the line by more than this for good are a gap."""

STAMPED_GAP_STEPS = 0.5
"""Stamped one by one: samples are missing where later stamps are late by more than this many steps for good."""

_FIT_POINTS = 20_000
_LOCAL_S = 2.0
_STAMPED_WINDOW = 20


@dataclass(frozen=True)
class GapRule:
    """What counts as a gap. A step between stamps of more than `jump_s` may be one; it is where `lateness` of the
    stamps' distances from the line, over `window` samples on each side, differs by more than `threshold_s`.
    """

    threshold_s: float
    jump_s: float
    window: int
    lateness: Callable[[np.ndarray], np.floating]


def burst_rule(step: float) -> GapRule:
    # The freshest stamp is the honest one: others waited.
    return GapRule(BURST_GAP_S, BURST_GAP_S, max(4, round(_LOCAL_S / step)), np.min)


def stamped_rule(step: float) -> GapRule:
    missing = STAMPED_GAP_STEPS * step
    return GapRule(missing, step + missing, _STAMPED_WINDOW, np.median)


def typical_step(stamps: np.ndarray) -> float:
    """A step that neither bursts nor a few gaps disturb: the median slope over a lag of many bursts.

    Raises Problem where the stamps don't tell samples apart at all.
    """
    lag = min(max(1, len(stamps) // 6), 2000)
    step = float(np.median(stamps[lag:] - stamps[:-lag])) / lag if len(stamps) > 1 else 0.0
    if step <= 0:
        raise _time_still()
    return step


def grid(stamps: np.ndarray, step: float, rule: GapRule) -> tuple[Stretch, ...]:
    """The lines between gaps. A gap that the lines themselves don't show was a slow recovery, and is dropped."""
    gaps = _gaps(stamps, step, rule)
    while True:
        stretches = _fit(stamps, step, gaps)
        wide = [missing > rule.threshold_s for missing in missing_s(stretches)]
        if all(wide):
            return stretches
        gaps = [gap for gap, kept in zip(gaps, wide, strict=True) if kept]


def missing_s(stretches: tuple[Stretch, ...]) -> list[float]:
    """Seconds without samples before each stretch but the first."""
    return [
        after.start_s - before.start_s - before.step_s * (after.first - before.first)
        for before, after in pairwise(stretches)
    ]


def _gaps(stamps: np.ndarray, step: float, rule: GapRule) -> list[int]:
    """The first sample after each gap."""
    jumps = np.diff(stamps)
    begins = [*(np.flatnonzero(jumps > rule.jump_s) + 1).tolist(), len(stamps)]
    found: list[int] = []
    for at, next_begin in pairwise(begins):
        earliest = found[-1] if found else 0
        # A reading that was late empties what had piled up meanwhile: look past it.
        piled_up = int(jumps[at - 1] / step)
        before = np.arange(max(earliest, at - rule.window), at)
        after = np.arange(at, min(next_begin, at + rule.window + piled_up))
        shift = rule.lateness(stamps[after] - step * after) - rule.lateness(stamps[before] - step * before)
        if shift > rule.threshold_s:
            found.append(at)
    return found


def _fit(stamps: np.ndarray, step: float, gaps: list[int]) -> tuple[Stretch, ...]:
    """One step for all and a start for each stretch, by least absolute deviations (iterated reweighting).

    Raises Problem where the time goes back rather than on.
    """
    bounds = np.array([0, *gaps, len(stamps)])
    picked = spread_out(len(stamps))
    stretch = np.searchsorted(bounds, picked, side="right") - 1
    number = (picked - bounds[stretch]).astype(float)
    time = stamps[picked]
    starts = np.zeros(len(gaps) + 1)
    weight = np.ones(len(picked))
    for _ in range(25):
        before = step, starts
        step, starts = _weighted_line(number, time, weight, stretch, len(starts), step)
        if step == before[0] and np.array_equal(starts, before[1]):
            break  # every further round would come to the same
        if step <= 0:  # stamps that go back and forth within what is left between two gaps
            raise _time_still()
        off = np.abs(time - starts[stretch] - step * number)
        weight = 1 / np.maximum(off, 0.05 * step)
    for i in np.flatnonzero(np.bincount(stretch, minlength=len(starts)) == 0).tolist():  # too short to be picked from
        first, end = int(bounds[i]), int(bounds[i + 1])
        starts[i] = np.median(stamps[first:end] - step * np.arange(end - first))
    return tuple(Stretch(int(b), float(s), float(step)) for b, s in zip(bounds[:-1], starts, strict=True))


def spread_out(samples: int) -> np.ndarray:
    """Sample numbers to fit on: all, or many spread evenly but out of step with bursts of any length."""
    if samples <= _FIT_POINTS:
        return np.arange(samples)
    slot = samples / _FIT_POINTS
    turn = np.arange(_FIT_POINTS) * 0.6180339887498949 % 1
    return ((np.arange(_FIT_POINTS) + turn) * slot).astype(np.int64)


def _weighted_line(
    number: np.ndarray, time: np.ndarray, weight: np.ndarray, stretch: np.ndarray, stretches: int, step: float
) -> tuple[float, np.ndarray]:
    total = np.bincount(stretch, weight, stretches)
    filled = np.maximum(total, 1e-300)
    mean_number = np.bincount(stretch, weight * number, stretches) / filled
    mean_time = np.bincount(stretch, weight * time, stretches) / filled
    run = number - mean_number[stretch]
    spread = float(np.sum(weight * run * run))
    if spread > 0:
        step = float(np.sum(weight * run * (time - mean_time[stretch])) / spread)
    return step, mean_time - step * mean_number


def unevenness(stamps: np.ndarray, stretches: tuple[Stretch, ...]) -> float:
    """The farthest that a stamp lies off its line, in seconds."""
    ends = [s.first for s in stretches[1:]] + [len(stamps)]
    worst = 0.0
    for s, end in zip(stretches, ends, strict=True):
        off = stamps[s.first : end] - (s.start_s + s.step_s * np.arange(end - s.first))
        worst = max(worst, float(np.abs(off).max()))
    return worst


def _time_still() -> Problem:
    return Problem(
        "time_still",
        "The time doesn't go on from sample to sample.",
        'Choose another column of times, or declare stamps = "even" and a rate.',
        field="time.stamps",
        fits="even",
    )
