"""From cells in a column of times to seconds."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np

from data.problem import Problem, shown
from data.recording import Remark

PER_SECOND = {"s": 1.0, "ms": 1e3, "us": 1e6}

EPOCH_S = 1e8
"""Seconds beyond this (three years of uptime) are those of a calendar, not of a logger's own clock."""


def in_seconds(stamps: np.ndarray, unit: str) -> tuple[np.ndarray, float, tuple[Remark, ...]]:
    """Seconds, what they are rounded to, and what was done. `stamps`: float64 in the unit.

    A calendar's seconds begin at the first of them: a recording's own clock is easier to read, and floats
    keep their digits.
    """
    per_second = PER_SECOND[unit]
    resolution = _resolution(stamps) / per_second
    if stamps.min() / per_second > EPOCH_S:
        origin = float(stamps.min())
        when = datetime.fromtimestamp(origin / per_second, UTC).strftime("%Y-%m-%d %H:%M:%S")
        return (stamps - origin) / per_second, resolution, (_counted_from(when + " UTC"),)
    return (stamps / per_second if per_second != 1.0 else stamps), resolution, ()


def from_dates(texts: list[str]) -> tuple[np.ndarray, float, tuple[Remark, ...]]:
    """Seconds since the first, from ISO 8601 texts. Raises Problem (with its `row`) for one that is none."""
    import pandas as pd  # slow to load, and few loggers write dates

    try:
        times = pd.to_datetime(pd.Series(texts), format="ISO8601", utc=True)
    except (ValueError, OverflowError) as error:
        row = next((i for i, text in enumerate(texts) if not _is_date(text)), 0)
        raise Problem(
            "not_a_time",
            f'"{shown(texts[row])}" is not a date and time (ISO 8601, such as 2024-05-31T14:03:07.25).',
            "Correct the line, or name another unit of time (--time-unit).",
            row=row,
            value=shown(texts[row]),
        ) from error
    whole = times.astype("datetime64[ns, UTC]").astype("int64").to_numpy()
    seconds = (whole - whole.min()) / 1e9
    return seconds, _resolution(seconds * 1e6) / 1e6, (_counted_from(texts[int(whole.argmin())]),)


def _is_date(text: str) -> bool:
    import pandas as pd

    try:
        pd.to_datetime(pd.Series([text]), format="ISO8601", utc=True)
    except (ValueError, OverflowError):
        return False
    return bool(text)


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
