"""Back from stamps to the even grid on which a logger took its samples.

A stamp is as good as what wrote it. Some loggers stamp each sample; others empty a buffer now and then and stamp
the reading, so a burst of samples has stamps close together, each late by as long as it waited. Both know the
order of samples and, on average, the time. So the grid is a straight line of stamp against sample number:

* **Through the middle** of the stamps, by least absolute deviations. Lateness is one-sided, but labels are put on
  by people who look at stamps, and the line through the middle brings a stamped time to the sample that carries
  that stamp, give or take half a burst; a line under the freshest stamps would be late by that much for every
  label. One slow read-out of many samples doesn't move the middle, as it would move a mean.
* **One step for the whole recording**, as it has one clock, and a start for each stretch between gaps.
* **A gap** is where stamps leave the line for good. It is looked for with the freshest stamps on both sides (for
  bursts): after a late reading the freshest are on the line again, after a loss they never are.

Nothing is resampled here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from data.problem import Problem
from data.recording import Remark, Stretch

BURST_GAP_S = 0.150
"""Bursts: stamps that leave the line by more than this for good are a gap."""

STAMPED_GAP_STEPS = 0.5
"""Stamped one by one: samples are missing where later stamps are late by more than this many steps for good."""

RATE_TOLERANCE = 0.03
"""A fitted rate this close to a nominal one is that one."""

RATE_WORTH_A_WORD = 0.001
"""A clock that is off its nominal rate by more than this is told so."""

EVEN_TOLERANCE = 0.02
"""Stamps no farther from the line than this many steps (or than their own rounding) are even."""

_FIT_POINTS = 20_000
_LOCAL_S = 2.0
_DRIFT_BLOCK_S = 10.0
_STAMPED_WINDOW = 20


@dataclass(frozen=True, eq=False)
class TimeBase:
    """What the stamps come to.

    `order`: (n,) sample numbers as stored, in the order they were taken; None where that is the stored order.
    """

    order: np.ndarray | None
    stretches: tuple[Stretch, ...]
    fitted_rate_hz: float
    rate_hz: float
    rate_known: bool
    remarks: tuple[Remark, ...]


def even(
    samples: int, rates_hz: tuple[float, ...], stamps: np.ndarray | None = None, rows: np.ndarray | None = None
) -> TimeBase:
    """A grid that ignores the stamps, but for the choice among several nominal rates and for where it starts.

    `rows`: (n,) the row of each sample, where rows without a sample were left out between them.
    Raises Problem where no rate was named, or several and there are no stamps to tell which.
    """
    if len(rates_hz) == 1:
        rate = rates_hz[0]
    elif rates_hz and stamps is not None and samples > 1:
        measured = (samples - 1) / max(float(stamps.max() - stamps.min()), 1e-9)
        rate = min(rates_hz, key=lambda r: abs(measured / r - 1))
    else:
        raise rate_missing()
    start = float(stamps[0]) if stamps is not None else 0.0
    said = "stamps were not used" if stamps is not None else "there are no stamps"
    remark = Remark("even", f"Taken as samples at exactly {rate:g} Hz; {said}.")
    if rows is None:
        stretches: tuple[Stretch, ...] = (Stretch(0, start, 1 / rate),)
    else:
        firsts = np.concatenate([[0], np.flatnonzero(np.diff(rows) > 1) + 1])
        stretches = tuple(Stretch(int(f), start + float(rows[f] - rows[0]) / rate, 1 / rate) for f in firsts)
    return TimeBase(None, stretches, rate, rate, True, (remark, *_gap_remarks(stretches)))


def rate_missing() -> Problem:
    """Nothing says how fast the samples were taken."""
    return Problem(
        "rate_unknown",
        "Nothing says at which rate the samples were taken.",
        "Name it: --rate HZ, or rates_hz under [time] in a recipe. With a column of times: --columns TIME,X,Y,Z.",
    )


def as_stamped(stamps: np.ndarray, rates_hz: tuple[float, ...] = (), resolution_s: float = 0.0) -> TimeBase:
    """The grid of samples that were stamped one by one. `stamps`: (n,) seconds, rising.

    `resolution_s`: what the stamps are rounded to. Without named rates, even stamps name the rate themselves.
    Raises Problem, with its `row`, where they don't rise.
    """
    _require_rising(stamps)
    step = _typical_step(stamps)
    stretches = _grid(stamps, step, _stamped_rule(step))
    fitted = 1 / stretches[0].step_s
    remarks = (*_gap_remarks(stretches), *_drift_remarks(stamps, stretches))
    if rates_hz:
        unsure = max(resolution_s, stretches[0].step_s) / (float(stamps[-1]) - float(stamps[0]))
        return _with_rate(None, stretches, fitted, rates_hz, remarks, unsure)
    if _unevenness(stamps, stretches) <= EVEN_TOLERANCE * stretches[0].step_s + resolution_s:
        rate = _plain_rate(fitted)
        said = Remark("rate_from_stamps", f"The stamps are even: taken as {rate:g} Hz ({fitted:.4g} Hz fitted).")
        return TimeBase(None, stretches, fitted, rate, True, (*remarks, said))
    return _with_rate(None, stretches, fitted, (), remarks)


def from_bursts(stamps: np.ndarray, rates_hz: tuple[float, ...] = ()) -> TimeBase:
    """The grid behind stamps of a buffer's read-outs. `stamps`: (n,) seconds, rising within each burst.

    Whole bursts may be stored out of order; they are put back by a stable sort on their first stamp.
    Raises Problem where going back in time is not that, but a clock that started again.
    """
    order = _burst_order(stamps)
    ranked = stamps if order is None else stamps[order]
    step = _typical_step(ranked)
    stretches = _grid(ranked, step, _burst_rule(step))
    remarks = (*_gap_remarks(stretches), *_drift_remarks(ranked, stretches))
    if order is not None:
        back = int(np.count_nonzero(np.diff(stamps) < 0))
        times = "once" if back == 1 else f"{back} times"
        remarks = (
            Remark("order", f"The stamps jump back {times}: bursts were stored out of order and are put back."),
            *remarks,
        )
    unsure = BURST_GAP_S / (float(ranked[-1]) - float(ranked[0]))
    return _with_rate(order, stretches, 1 / stretches[0].step_s, rates_hz, remarks, unsure)


def look_like_bursts(stamps: np.ndarray) -> bool:
    """Whether most stamps come much closer together than their average step: those can't be sampling times."""
    if len(stamps) < 8:
        return False
    steps = np.diff(np.sort(stamps, kind="stable"))
    mean = float(stamps.max() - stamps.min()) / (len(stamps) - 1)
    return float(np.median(steps)) < 0.5 * mean


def nominal_rate(fitted_hz: float, rates_hz: tuple[float, ...]) -> float | None:
    """The nominal rate that a fitted one is within 3 % of, None where there is none."""
    if not rates_hz:
        return None
    nearest = min(rates_hz, key=lambda rate: abs(fitted_hz / rate - 1))
    return nearest if abs(fitted_hz / nearest - 1) <= RATE_TOLERANCE else None


def _with_rate(
    order: np.ndarray | None,
    stretches: tuple[Stretch, ...],
    fitted: float,
    rates_hz: tuple[float, ...],
    remarks: tuple[Remark, ...],
    unsure: float = 0.0,
) -> TimeBase:
    """`unsure`: the share by which the stamps leave the fitted rate open."""
    nominal = nominal_rate(fitted, rates_hz)
    if nominal is not None:
        return TimeBase(order, stretches, fitted, nominal, True, (*remarks, *_rate_off(fitted, nominal, unsure)))
    named = " or ".join(f"{rate:g}" for rate in rates_hz)
    why = f"within 3 % of none of the rates named ({named} Hz)" if named else "and no nominal rate was named"
    said = f"The stamps say {fitted:.2f} Hz, {why}: not scored until someone decides (--rate, or rates_hz)."
    return TimeBase(order, stretches, fitted, fitted, False, (*remarks, Remark("rate", said)))


def _require_rising(stamps: np.ndarray) -> None:
    if len(stamps) < 2:
        raise rate_missing()
    steps = np.diff(stamps)
    if steps.min() > 0:
        return
    at = int(np.argmax(steps <= 0)) + 1
    same = steps[at - 1] == 0
    message = (
        f"The time {stamps[at]:g} s is that of the sample before it too."
        if same
        else f"The time goes back from {stamps[at - 1]:g} s to {stamps[at]:g} s."
    )
    remedy = ('Remove the line, or declare repeats = "drop" under [time] where whole rows stand there twice; '
              if same else "Remove the line; ") + (
        'or declare stamps = "bursts" where the logger empties a buffer and stamps the reading, '
        'or "even" to ignore the stamps (--stamps, or [time] in a recipe).'
    )
    kind = "time_duplicate" if same else "time_order"
    raise Problem(kind, message, remedy, row=at, value=f"{stamps[at]:g}")


def _burst_order(stamps: np.ndarray) -> np.ndarray | None:
    """The order in which the samples were taken; None where they are stored so."""
    steps = np.diff(stamps)
    back = int(np.count_nonzero(steps < 0))
    if back == 0:
        return None
    # Splitting a burst in two does no harm to a stable sort; joining two would. So cut at every average step.
    average = float(stamps.max() - stamps.min()) / (len(stamps) - 1)
    begins = np.concatenate([[0], np.flatnonzero((steps < 0) | (steps > average)) + 1])
    lengths = np.diff(np.append(begins, len(stamps)))
    ranks = np.argsort(stamps[begins], kind="stable")
    # A block that was misplaced leaves three seams once put back. Two runs of a clock interleave: seams everywhere.
    seams = int(np.count_nonzero(np.diff(ranks) != 1))
    if seams > 4 * back:
        at = int(np.argmax(steps < 0)) + 1
        raise Problem(
            "time_restart",
            f"The time starts again: it goes back from {stamps[at - 1]:g} s to {stamps[at]:g} s.",
            "This is more than bursts out of order. Split the file here, one recording a file.",
            row=at,
            value=f"{stamps[at]:g}",
        )
    ends = np.cumsum(lengths[ranks])
    order: np.ndarray = np.arange(len(stamps)) + np.repeat(begins[ranks] - (ends - lengths[ranks]), lengths[ranks])
    return order


def _typical_step(stamps: np.ndarray) -> float:
    """A step that neither bursts nor a few gaps disturb: the median slope over a lag of many bursts.

    Raises Problem where the stamps don't tell samples apart at all.
    """
    lag = min(max(1, len(stamps) // 6), 2000)
    step = float(np.median(stamps[lag:] - stamps[:-lag])) / lag if len(stamps) > 1 else 0.0
    if step <= 0:
        raise Problem(
            "time_still",
            "The time doesn't go on from sample to sample.",
            'Choose another column of times, or declare stamps = "even" and a rate (--stamps even --rate HZ).',
        )
    return step


@dataclass(frozen=True)
class _GapRule:
    """What counts as a gap. A step between stamps of more than `jump_s` may be one; it is where `lateness` of the
    stamps' distances from the line, over `window` samples on each side, differs by more than `threshold_s`.
    """

    threshold_s: float
    jump_s: float
    window: int
    lateness: Callable[[np.ndarray], np.floating]


def _burst_rule(step: float) -> _GapRule:
    # The freshest stamp is the honest one: others waited.
    return _GapRule(BURST_GAP_S, BURST_GAP_S, max(4, round(_LOCAL_S / step)), np.min)


def _stamped_rule(step: float) -> _GapRule:
    missing = STAMPED_GAP_STEPS * step
    return _GapRule(missing, step + missing, _STAMPED_WINDOW, np.median)


def _grid(stamps: np.ndarray, step: float, rule: _GapRule) -> tuple[Stretch, ...]:
    """The lines between gaps. A gap that the lines themselves don't show was a slow recovery, and is dropped."""
    gaps = _gaps(stamps, step, rule)
    while True:
        stretches = _fit(stamps, step, gaps)
        wide = [missing > rule.threshold_s for missing in _missing(stretches)]
        if all(wide):
            return stretches
        gaps = [gap for gap, kept in zip(gaps, wide, strict=True) if kept]


def _missing(stretches: tuple[Stretch, ...]) -> list[float]:
    """Seconds without samples before each stretch but the first."""
    return [
        after.start_s - before.start_s - before.step_s * (after.first - before.first)
        for before, after in pairwise(stretches)
    ]


def _gaps(stamps: np.ndarray, step: float, rule: _GapRule) -> list[int]:
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
    """One step for all and a start for each stretch, by least absolute deviations (iterated reweighting)."""
    bounds = np.array([0, *gaps, len(stamps)])
    picked = _spread_out(len(stamps))
    stretch = np.searchsorted(bounds, picked, side="right") - 1
    number = (picked - bounds[stretch]).astype(float)
    time = stamps[picked]
    starts = np.zeros(len(gaps) + 1)
    weight = np.ones(len(picked))
    for _ in range(25):
        step, starts = _weighted_line(number, time, weight, stretch, len(starts), step)
        off = np.abs(time - starts[stretch] - step * number)
        weight = 1 / np.maximum(off, 0.05 * step)
    for i, (first, end) in enumerate(pairwise(bounds.tolist())):
        if not np.any(stretch == i):  # too short to have been picked from
            starts[i] = np.median(stamps[first:end] - step * np.arange(end - first))
    return tuple(Stretch(int(b), float(s), float(step)) for b, s in zip(bounds[:-1], starts, strict=True))


def _spread_out(samples: int) -> np.ndarray:
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


def _unevenness(stamps: np.ndarray, stretches: tuple[Stretch, ...]) -> float:
    """The farthest that a stamp lies off its line, in seconds."""
    ends = [s.first for s in stretches[1:]] + [len(stamps)]
    worst = 0.0
    for s, end in zip(stretches, ends, strict=True):
        off = stamps[s.first : end] - (s.start_s + s.step_s * np.arange(end - s.first))
        worst = max(worst, float(np.abs(off).max()))
    return worst


def _plain_rate(fitted: float) -> float:
    """The simplest decimal number within 0.1 % of the fitted rate: 49.99 is 50, 31.248 is 31.25."""
    for digits in range(6):
        rate = round(fitted, digits)
        if rate > 0 and abs(rate / fitted - 1) <= 0.001:
            return rate
    return fitted


def _gap_remarks(stretches: tuple[Stretch, ...]) -> tuple[Remark, ...]:
    return tuple(
        Remark("gap", f"Samples are missing for {missing:.2f} s before {after.start_s:.2f} s.")
        for after, missing in zip(stretches[1:], _missing(stretches), strict=True)
    )


def _rate_off(fitted_hz: float, rate_hz: float, unsure: float) -> tuple[Remark, ...]:
    """A word where the clock is off its nominal rate by more than a thousandth, and than the stamps' own doubt."""
    off = fitted_hz / rate_hz - 1
    if abs(off) <= max(RATE_WORTH_A_WORD, 2 * unsure):
        return ()
    seconds = abs(off) * 3600
    return (
        Remark(
            "rate_off",
            f"By its stamps the logger ran at {fitted_hz:.4g} Hz, {100 * abs(off):.2g} % "
            f"{'fast' if off > 0 else 'slow'} against {rate_hz:g} Hz: {seconds:.0f} s in an hour.",
        ),
    )


def _drift_remarks(stamps: np.ndarray, stretches: tuple[Stretch, ...]) -> tuple[Remark, ...]:
    """A word where the clock's rate changed so much that no straight line keeps to the stamps: labels shift by that."""
    picked = _spread_out(len(stamps))
    firsts = np.array([s.first for s in stretches])
    starts = np.array([s.start_s for s in stretches])
    stretch = np.searchsorted(firsts, picked, side="right") - 1
    off = stamps[picked] - starts[stretch] - stretches[0].step_s * (picked - firsts[stretch])
    # Ten seconds smooth over bursts and late readings.
    block = max(50, int(_DRIFT_BLOCK_S / stretches[0].step_s * len(picked) / len(stamps)))
    blocks = len(off) // block
    if blocks < 2:
        return ()
    wander = np.median(off[: blocks * block].reshape(blocks, block), axis=1)
    widest = float(wander.max() - wander.min())
    if widest <= BURST_GAP_S:
        return ()
    return (Remark("drift", f"The stamps wander by {widest:.2f} s around an even grid: the clock's rate changed."),)
