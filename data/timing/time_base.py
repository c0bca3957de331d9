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

from dataclasses import dataclass

import numpy as np

from data.problem import Problem
from data.recordings.model import Remark, Stretch
from data.timing.line_fit import (
    BURST_GAP_S,
    burst_rule,
    grid,
    missing_s,
    spread_out,
    stamped_rule,
    typical_step,
    unevenness,
)

RATE_TOLERANCE = 0.03
"""A fitted rate this close to a nominal one is that one."""

RATE_WORTH_A_WORD = 0.001
"""A clock that is off its nominal rate by more than this is told so."""

EVEN_TOLERANCE = 0.02
"""Stamps no farther from the line than this many steps (or than their own rounding) are even."""

MISSING_SHARES = 1 / 3, 0.75
"""Of a logger's steps so many at least are single ones where samples are missing; below the second, stamps that may
have been rounded don't tell missing samples from a slower rate."""

MOST_GAPS_TOLD = 5
"""More gaps than these are told in one sentence."""

_DRIFT_BLOCK_S = 10.0


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
    remark = Remark("even", f"Taken as samples at exactly {rate:g} Hz; {said}{_contradiction(rate, stamps)}.")
    if rows is None:
        stretches: tuple[Stretch, ...] = (Stretch(0, start, 1 / rate),)
    else:
        firsts = np.concatenate([[0], np.flatnonzero(np.diff(rows) > 1) + 1])
        stretches = tuple(Stretch(int(f), start + float(rows[f] - rows[0]) / rate, 1 / rate) for f in firsts)
    return TimeBase(None, stretches, rate, rate, True, (remark, *_gap_remarks(stretches)))


def _contradiction(rate: float, stamps: np.ndarray | None) -> str:
    """What the unused stamps say to the rate, where it is another."""
    if stamps is None or len(stamps) < 2 or stamps.max() <= stamps.min():
        return ""
    measured = (len(stamps) - 1) / float(stamps.max() - stamps.min())
    return "" if nominal_rate(measured, (rate,)) else f", though they say {measured:.4g} Hz"


def rate_missing() -> Problem:
    """Nothing says how fast the samples were taken."""
    return Problem(
        "rate_unknown",
        "Nothing says at which rate the samples were taken.",
        "Name a column of times, or name the rate.",
        field="time.rates_hz",
    )


def as_stamped(stamps: np.ndarray, rates_hz: tuple[float, ...] = (), resolution_s: float = 0.0) -> TimeBase:
    """The grid of samples that were stamped one by one. `stamps`: (n,) seconds, rising.

    `resolution_s`: what the stamps are rounded to. Without named rates, even stamps name the rate themselves.
    Raises Problem, with its `row`, where they don't rise.
    """
    _require_rising(stamps)
    tick = _tick(stamps, resolution_s)
    step, open_question = _stamped_step(stamps, tick, resolution_s, rates_hz)
    stretches = grid(stamps, step, stamped_rule(step))
    fitted = 1 / stretches[0].step_s
    remarks = (*_gap_remarks(stretches), *_drift_remarks(stamps, stretches))
    if rates_hz:
        unsure = max(resolution_s, stretches[0].step_s) / (float(stamps[-1]) - float(stamps[0]))
        return _with_rate(None, stretches, fitted, rates_hz, remarks, unsure)
    if open_question:
        said = Remark("rate", f"The stamps are whole multiples of {tick * 1e3:g} ms, and many steps are longer: either "
                      f"samples at {1 / tick:g} Hz are missing, or {fitted:.4g} Hz was stamped that coarsely. Not "
                      "scored until someone names the logger's nominal rates.")
        return TimeBase(None, stretches, fitted, fitted, False, (*remarks, said))
    if unevenness(stamps, stretches) <= EVEN_TOLERANCE * stretches[0].step_s + resolution_s:
        rate = _plain_rate(fitted)
        said = Remark("rate_from_stamps", f"The stamps are even: taken as {rate:g} Hz ({fitted:.4g} Hz fitted).")
        return TimeBase(None, stretches, fitted, rate, True, (*remarks, said))
    return _with_rate(None, stretches, fitted, (), remarks)


WHOLE_NUMBERS = 2.0**53
"""Up to here a double knows each of them; of more a divisor means nothing."""


def _tick(stamps: np.ndarray, resolution_s: float) -> float:
    """The step of a grid on which samples are missing: the common divisor of all steps, where many steps are just
    that and others are multiples of it; 0 where the stamps show no such grid."""
    if resolution_s <= 0:
        return 0.0
    steps = np.diff(stamps)
    steps /= resolution_s
    whole = np.round(steps)
    steps -= whole
    if max(float(steps.max()), -float(steps.min())) > 0.05 or whole.min() == whole.max():
        return 0.0
    if whole.max() > WHOLE_NUMBERS:
        return 0.0
    counts = whole.astype(np.int64)
    divisor = int(np.gcd.reduce(counts))
    share = float(np.mean(counts == divisor))
    return divisor * resolution_s if MISSING_SHARES[0] <= share < 1 else 0.0


def _stamped_step(stamps: np.ndarray, tick: float, resolution_s: float, rates_hz: tuple[float, ...]) \
        -> tuple[float, bool]:
    """The step of samples stamped one by one, and whether it is open which of two it is.

    Between multiples of a tick the median slope says what samples and missing ones come to together. A tick that is a
    plain decimal place may be what coarse stamps were rounded to; any other is the logger's own step.
    """
    typical = typical_step(stamps)
    if not tick:
        return typical, False
    if rates_hz:
        named = [step for step in (typical, tick) if nominal_rate(1 / step, rates_hz) is not None]
        return (named[0] if named else typical), False
    rounded = abs(tick / resolution_s - 1) < 0.01
    if rounded and float(np.mean(np.diff(stamps) < 1.5 * tick)) < MISSING_SHARES[1]:
        return typical, True
    return tick, False


def numbered(numbers: np.ndarray, rate_hz: float, offset_s: float = 0.0, drift_ppm: float = 0.0) -> TimeBase:
    """The grid of samples that carry their number: a number that is missing is a sample that is missing.

    `numbers`: (n,) whole numbers to within a thousandth, rising. Sample 0 was taken at `offset_s`; each step is longer
    than nominal by `drift_ppm`. Raises Problem, with its `row`, where a number is not whole or doesn't rise.
    """
    whole = np.rint(numbers)
    broken = np.abs(numbers - whole) > 1e-3
    if broken.any():
        row = int(np.argmax(broken))
        raise Problem("not_a_number", f"The sample number {numbers[row]:g} is not a whole number.",
                      "Correct the line, or choose another column of times.", row=row, value=f"{numbers[row]:g}")
    _require_rising(whole / rate_hz)
    step = (1 + drift_ppm / 1e6) / rate_hz
    firsts = np.concatenate([[0], np.flatnonzero(np.diff(whole) > 1) + 1])
    stretches = tuple(Stretch(int(first), offset_s + float(whole[first]) * step, step) for first in firsts)
    return TimeBase(None, stretches, 1 / step, rate_hz, True, _gap_remarks(stretches))


def from_bursts(stamps: np.ndarray, rates_hz: tuple[float, ...] = ()) -> TimeBase:
    """The grid behind stamps of a buffer's read-outs. `stamps`: (n,) seconds, rising within each burst.

    Whole bursts may be stored out of order; they are put back by a stable sort on their first stamp.
    Raises Problem where going back in time is not that, but a clock that started again.
    """
    order = _burst_order(stamps)
    ranked = stamps if order is None else stamps[order]
    step = typical_step(ranked)
    stretches = grid(ranked, step, burst_rule(step))
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
    said = f"The stamps say {fitted:.2f} Hz, {why}: not scored until someone names the logger's nominal rates."
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
        f"The time {stamps[at]:g} s is the same as that of the sample before it."
        if same
        else f"The time goes back from {stamps[at - 1]:g} s to {stamps[at]:g} s."
    )
    remedy = ('Remove the line, or declare repeats = "drop" under [time] where whole rows occur twice; '
              if same else "Remove the line; ") + (
        'or declare stamps = "bursts" where the logger empties a buffer and stamps the reading, '
        'or "even" to ignore the stamps.'
    )
    kind = "time_duplicate" if same else "time_order"
    raise Problem(kind, message, remedy, row=at, value=f"{stamps[at]:g}", field="time.stamps")


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


def _plain_rate(fitted: float) -> float:
    """The simplest decimal number within 0.1 % of the fitted rate: 49.99 is 50, 31.248 is 31.25."""
    for digits in range(6):
        rate = round(fitted, digits)
        if rate > 0 and abs(rate / fitted - 1) <= 0.001:
            return rate
    return fitted


def _gap_remarks(stretches: tuple[Stretch, ...]) -> tuple[Remark, ...]:
    gaps = missing_s(stretches)
    if len(gaps) > MOST_GAPS_TOLD:
        first = ", ".join(f"{after.start_s:.2f}" for after in stretches[1:4])
        return (Remark("gap", f"Samples are missing at {len(gaps)} places, for {sum(gaps):.2f} s in all, the first "
                       f"before {first} s."),)
    return tuple(
        Remark("gap", f"Samples are missing for {missing:.2f} s before {after.start_s:.2f} s.")
        for after, missing in zip(stretches[1:], gaps, strict=True)
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
    picked = spread_out(len(stamps))
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
    return (Remark("drift", f"The time stamps drift by {widest:.2f} s around an even grid: the clock's rate changed."),)
