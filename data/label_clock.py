"""Labels that were written by another clock than the recording's: units, calendars, offset and drift."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from data.corrections import Shift
from data.layout import is_number
from data.problem import Problem, shown
from data.recording import Label, Recording
from data.stamps import EPOCH_S, PER_SECOND


def moved(labels: Iterable[Label], old: Shift, new: Shift) -> tuple[Label, ...]:
    """Labels placed by the old shift, placed by the new one. Those of a whole recording stay."""
    if old == new:
        return tuple(labels)

    def at(time: float | None) -> float | None:
        return None if time is None else new.here(old.there(time))

    return tuple(replace(label, onset_s=at(label.onset_s), end_s=at(label.end_s)) for label in labels)


def time_of(cell: str, column: str, unit: str) -> float:
    """Seconds, or seconds since 1970 for dates, from one cell. Raises Problem for one that is no time."""
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
    said = f'"{shown(cell)}" in column {column} is not {kind}.' if cell else f"There is no {column}."
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
