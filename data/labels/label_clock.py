"""Labels that were written by another clock than the recording's: units, calendars, offset and drift.

What another clock's offset and drift would have to be for labels to fall on impacts: a proposal, never a change.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from data.formats.text_layout import is_number
from data.problem import Problem, shown
from data.recordings.model import Label, Recording, Shift
from data.timing.stamps import EPOCH_S, PER_SECOND


def moved(labels: Iterable[Label], old: Shift, new: Shift) -> tuple[Label, ...]:
    """Labels placed by the old shift, placed by the new one. Those of a whole recording stay."""
    if old == new:
        return tuple(labels)

    def at(time: float | None) -> float | None:
        return None if time is None else new.here(old.there(time))

    return tuple(replace(label, onset_s=at(label.onset_s), end_s=at(label.end_s)) for label in labels)


def time_of(cell: str, column: str, unit: str) -> float:
    """Seconds, or seconds since 1970 for dates, from one cell. Raises Problem for one that is not a time."""
    plain = cell.replace(",", ".")
    if unit != "iso" and is_number(plain, "."):
        return float(plain) / PER_SECOND[unit or "s"]
    if unit == "iso":
        import pandas as pd  # slow to load, and few tables write dates

        try:
            when = pd.Timestamp(cell)
        except (ValueError, OverflowError):
            when = pd.NaT
        if not pd.isna(when):
            utc = when if when.tzinfo else when.tz_localize("UTC")
            return float(utc.timestamp())
    kind = "a date and time (ISO 8601)" if unit == "iso" else f"a time in {unit or 's'}"
    said = f'"{shown(cell)}" in column {column} is not {kind}.' if cell else f"The {column} is missing."
    remedy = "Correct the line, or name the unit: time under [labels] in a recipe."
    raise Problem("label_time", said, remedy, column=column, value=shown(cell))


def on_the_clock_of(recording: Recording, time_s: float | None, shift: Shift) -> float | None:
    """A table's time on the recording's own clock.

    Raises Problem for a time of the calendar where the recording doesn't know when it began.
    """
    if time_s is None:
        return None
    if abs(time_s) > EPOCH_S:
        if recording.origin_s is None:
            raise Problem(
                "label_clock",
                f"The label's time is one of the calendar, but {recording.name} doesn't say when it began.",
                "Give its labels in seconds from its start.",
            )
        time_s -= recording.origin_s
    return shift.here(time_s)


CLOSE_S = 0.5
"""A label's moment this close to an impact is that one's."""

AS_GOOD = 0.9
"""Another clock whose impacts come to more than this share of the best one's fits as well."""

MOST_DRIFT_PPM = 500.0
"""Two quartz clocks differ by less: common practice, no source."""

_FEWEST_FOR_DRIFT = 4


@dataclass(frozen=True)
class Proposal:
    """`shift`: from the label times to the recording's. Of `of` labels, `before` lay on an impact as they stand and
    `matched` would; they would be off by `residual_s`, root mean square.
    """

    shift: Shift
    before: int
    matched: int
    of: int
    residual_s: float


def propose(
    moments_s: np.ndarray, impacts_s: np.ndarray, sizes_g: np.ndarray, most_offset_s: float = 60.0
) -> Proposal | None:
    """The offset, and from four labels on the drift, under which most labels' moments lie on the largest impacts.

    `moments_s`: when each labelled fall is taken to have hit, by the label times. `impacts_s`, `sizes_g`: what hit
    by the recording's. None where no other clock fits clearly better than none, or where several fit as well.
    """
    moments, order = np.sort(moments_s), np.argsort(impacts_s)
    impacts, sizes = impacts_s[order], sizes_g[order]
    if not len(moments) or not len(impacts):
        return None
    offsets = (impacts[None, :] - moments[:, None]).ravel()
    offsets = np.unique(np.round(offsets[np.abs(offsets) <= most_offset_s], 3))
    before = _on_impacts(moments, impacts, sizes, Shift())
    scored = [(fit.size_g, -fit.residual_s, offset) for offset in offsets.tolist()
              for fit in (_on_impacts(moments, impacts, sizes, Shift(offset)),)]
    if not scored:
        return None
    size, _, offset = max(scored)
    rivals = [o for s, _, o in scored if s > AS_GOOD * size and abs(o - offset) > 2 * CLOSE_S]
    if before.size_g > AS_GOOD * size or rivals:
        return None
    shift = _refined(moments, impacts, sizes, Shift(offset))
    after = _on_impacts(moments, impacts, sizes, shift)
    return Proposal(shift, before.count, after.count, len(moments), after.residual_s)


@dataclass(frozen=True)
class _Fit:
    """How many moments lie on an impact, how large those are together, and how far off the moments are."""

    count: int
    size_g: float
    residual_s: float


def _nearest(times: np.ndarray, impacts: np.ndarray) -> np.ndarray:
    """Which impact is nearest to each time."""
    after = np.clip(np.searchsorted(impacts, times), 0, len(impacts) - 1)
    before = np.maximum(after - 1, 0)
    closer = np.abs(impacts[before] - times) < np.abs(impacts[after] - times)
    return np.asarray(np.where(closer, before, after))


def _on_impacts(moments: np.ndarray, impacts: np.ndarray, sizes: np.ndarray, shift: Shift) -> _Fit:
    there = shift.here(moments)
    nearest = _nearest(there, impacts)
    off = impacts[nearest] - there
    close = np.abs(off) <= CLOSE_S
    if not close.any():
        return _Fit(0, 0.0, 0.0)
    return _Fit(int(close.sum()), float(sizes[nearest[close]].sum()), float(np.sqrt(np.mean(off[close] ** 2))))


def _refined(moments: np.ndarray, impacts: np.ndarray, sizes: np.ndarray, shift: Shift) -> Shift:
    """The line through the pairs that match, some times over; a drift only where there are enough and it is
    believable."""
    for _ in range(3):
        there = shift.here(moments)
        goal = impacts[_nearest(there, impacts)]
        close = np.abs(goal - there) <= CLOSE_S
        offset, drift = float(np.median(goal[close] - moments[close])), 0.0
        if close.sum() >= _FEWEST_FOR_DRIFT and np.ptp(moments[close]) > 60:
            slope, offset_at_nought = np.polyfit(moments[close], goal[close], 1)
            if abs(slope - 1) * 1e6 <= MOST_DRIFT_PPM:
                offset, drift = float(offset_at_nought), float((slope - 1) * 1e6)
        better = Shift(offset, drift)
        if _on_impacts(moments, impacts, sizes, better).count < close.sum():
            break
        shift = better
    return shift
