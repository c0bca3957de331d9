"""From cells in a column of times to seconds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from data.problem import Problem, shown
from data.recipe.sections import Clock
from data.recordings.model import Remark

if TYPE_CHECKING:
    import pandas as pd

PER_SECOND = {"s": 1.0, "ms": 1e3, "us": 1e6, "ns": 1e9}

EPOCH_S = 1e8
"""Seconds beyond this (three years of uptime) are those of a calendar, not of a logger's own clock."""

LATEST_S = 1e11
"""Seconds since 1970 beyond which no date is meant: the year 5138."""

_WRAPS = (2.0**8, 2.0**16, 2.0**24, 2.0**32)


@dataclass(frozen=True, eq=False)
class Times:
    """(n,) seconds of a recording's own clock, what they are rounded to, and when its zero was, in seconds since 1970
    (None where nobody knows)."""

    seconds: np.ndarray
    resolution_s: float
    origin_s: float | None
    remarks: tuple[Remark, ...] = ()


def in_seconds(stamps: np.ndarray, unit: str, clock: Clock | None = None) -> Times:
    """Seconds from float64 stamps in the unit.

    A calendar's seconds begin at the first of them: a recording's own clock is easier to read, and floats
    keep their digits. Raises Problem for a counter whose rate nobody named.
    """
    clock = clock or Clock()
    per_second = _counts_a_second(unit, clock) if unit in ("ticks", "samples") else PER_SECOND[unit]
    remarks: list[Remark] = []
    if clock.wrap:
        stamps, remark = unwrapped(stamps, clock.wrap)
        remarks += [remark] if remark else []
    resolution = _resolution(stamps) / per_second
    if unit in PER_SECOND and stamps.size and stamps.min() / per_second > LATEST_S:
        raise _too_late(float(stamps.min()), unit)
    if unit in PER_SECOND and stamps.size and stamps.min() / per_second > EPOCH_S:
        origin = float(stamps.min())
        import pandas as pd  # slow to load; a start that finds everything on the shelf needs none

        when = pd.Timestamp(origin / per_second, unit="s").isoformat(" ", "seconds")
        remarks.append(_counted_from(when + " UTC"))
        return Times((stamps - origin) / per_second, resolution, origin / per_second, tuple(remarks))
    return Times(stamps / per_second if per_second != 1.0 else stamps, resolution, None, tuple(remarks))


def _too_late(stamp: float, unit: str) -> Problem:
    """A stamp far beyond any calendar is in a finer unit."""
    fits = next((other for other, per in PER_SECOND.items() if EPOCH_S < stamp / per <= LATEST_S), "")
    remedy = f"It is one of our days if the unit is {fits}." if fits else "Choose another column."
    return Problem("time_unit_doubtful", f"{stamp:g} {unit} lies beyond any calendar.", remedy, value=f"{stamp:g}",
                   field="units.time" if fits else "columns", fits=fits)


def _counts_a_second(unit: str, clock: Clock) -> float:
    if unit == "ticks":
        if clock.ticks_hz:
            return clock.ticks_hz
        message = "Nothing says how fast the counter of ticks counts."
        raise Problem("ticks_unknown", message, "Write ticks_hz under [time] in a recipe, such as ticks_hz = 32768.")
    if len(clock.rates_hz) == 1:
        return clock.rates_hz[0]
    message = "Sample numbers are times only if the rate is known."
    raise Problem("rate_unknown", message, "Name one rate.", field="time.rates_hz")


def unwrapped(stamps: np.ndarray, wrap: float) -> tuple[np.ndarray, Remark | None]:
    """The counter as if it had never started again after `wrap` counts, and a remark where it did.

    A step of less than half the range is taken as what it is, forwards or back. Raises Problem (with its `row`) for
    a stamp that such a counter can't show.
    """
    outside = (stamps < 0) | (stamps >= wrap)
    if outside.any():
        row = int(np.argmax(outside))
        value = f"{stamps[row]:g}"
        raise Problem(
            "time_wrap",
            f"A counter that rolls over at {wrap:g} never shows {value}.",
            "Correct wrap under [time], or leave it out.",
            row=row,
            value=value,
        )
    steps = np.diff(stamps)
    turns = np.cumsum(-np.round(steps / wrap))
    if not turns.any():
        return stamps, None
    whole = stamps.copy()
    whole[1:] += turns * wrap
    times = "once" if turns[-1] == 1 else f"{int(turns[-1])} times"
    return whole, Remark("wrap", f"The counter rolled over {times}, after {wrap:g} counts each.")


def wrap_in_sight(stamps: np.ndarray, row: int) -> float:
    """The power of two after which a counter of whole numbers seems to have started again at `row`; 0 for none."""
    before, after = float(stamps[row - 1]), float(stamps[row])
    if before < 0 or after < 0 or before != round(before) or after != round(after):
        return 0.0
    usual = float(np.median(np.abs(np.diff(stamps)))) or 1.0
    return next((w for w in _WRAPS if stamps.max() < w and 0 < after + w - before <= 20 * usual), 0.0)


def from_dates(texts: list[str]) -> Times:
    """Seconds since the first, from ISO 8601 texts. Raises Problem (with its `row`) for one that is none, an empty one
    among them, or one outside the years 1678 to 2261, which nanoseconds since 1970 can't tell."""
    try:
        times = _dates(texts)
    except (ValueError, OverflowError, NotImplementedError) as error:
        row = next((i for i, text in enumerate(texts) if not _is_date(text)), 0)
        said = shown(texts[row])
        message = f'"{said}" is not a date and time of our days (ISO 8601, such as 2024-05-31T14:03:07.25).' if said \
            else "The cell of the time is empty."
        raise Problem(
            "not_a_time",
            message,
            'Correct the line; or name another unit of time; or declare missing = ["nan"] under [table] in a recipe '
            "where empty cells mean a missing sample.",
            field="units.time",
            row=row,
            value=said,
        ) from error
    whole = times.astype("int64").to_numpy()
    seconds = (whole - whole.min()) / 1e9
    remark = _counted_from(texts[int(whole.argmin())])
    return Times(seconds, _resolution(seconds * 1e6) / 1e6, float(whole.min()) / 1e9, (remark,))


_SHORTEST_DATE = len("20240531")


def _dates(texts: list[str]) -> pd.Series:
    """The texts as times in nanoseconds. Raises ValueError, OverflowError or NotImplementedError where one is none."""
    import pandas as pd

    if min(map(len, texts)) < _SHORTEST_DATE:  # "", "nan", "now", a bare year: pandas makes something of each
        raise ValueError("too short for a date")
    times = pd.to_datetime(pd.Series(texts), format="ISO8601", utc=True).astype("datetime64[ns, UTC]")
    if times.isna().any():
        raise ValueError("not a date")
    return times


def _is_date(text: str) -> bool:
    try:
        _dates([text])
    except (ValueError, OverflowError, NotImplementedError):
        return False
    return True


def _counted_from(when: str) -> Remark:
    return Remark("clock", f"Times are seconds since the first sample, {when}.")


def _resolution(stamps: np.ndarray) -> float:
    """The decimal place that the stamps are rounded to: the largest power of ten of which all are whole multiples."""
    some = stamps[:2000]
    for power in range(3, -10, -1):
        unit = 10.0**power
        if np.abs(some / unit - np.round(some / unit)).max() < 1e-3:
            return unit
    return 0.0
