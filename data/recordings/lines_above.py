"""What lines above a table say of its recording, where a recipe names the keys: who, where, when, at which rate."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from data.problem import Problem, shown
from data.recipe.recipe import Recipe
from data.recordings.model import About, Recording, Remark
from data.timing.stamps import from_dates

_RATE = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:hz|sps|1/s|/s|samples/s|samples per second)?", re.IGNORECASE)
ABOUT = ("person", "activity", "placement", "trial")


@dataclass(frozen=True)
class ToldAbove:
    """`start_s`: seconds since 1970 at the first sample, None where nobody says."""

    about: About
    recipe: Recipe
    start_s: float | None = None
    remarks: tuple[Remark, ...] = ()

    def placed(self, recording: Recording) -> Recording:
        """The recording with its place in the calendar, where its own stamps don't say it."""
        if self.start_s is None or recording.origin_s is not None:
            return recording
        return replace(recording, origin_s=self.start_s - recording.stretches[0].start_s)


def told_above(preamble: tuple[tuple[str, str], ...], recipe: Recipe, about: About) -> ToldAbove:
    """What the keys that the recipe names say, below what file name and recipe say already. Raises Problem where a rate
    or a date is none; a key that is not there says nothing."""
    said, keys = dict(preamble), recipe.preamble
    remarks = []
    for field in ABOUT:
        value, known = said.get(getattr(keys, field), ""), getattr(about, field)
        if value and not known:
            about = about.with_told({field: value})
        elif value and value != known:
            remarks.append(Remark(
                "preamble", f'The lines above the table say that the {field} is "{shown(value, 40)}"; the file\'s name '
                f'or the recipe says "{shown(known, 40)}", which holds.'))
    if keys.rate in said and not recipe.clock.rates_hz:
        rate = rate_in(said[keys.rate])
        if rate is None:
            raise _unfit(keys.rate, said[keys.rate], "a rate in Hz", "rate")
        recipe = replace(recipe, clock=replace(recipe.clock, rates_hz=(rate,)))
        remarks.append(Remark("preamble", f"The lines above the table state the rate: {rate:g} Hz."))
    start_s = None
    if keys.date in said:
        start_s = date_in(said[keys.date])
        if start_s is None:
            raise _unfit(keys.date, said[keys.date], "a date and time, year first (ISO 8601)", "date")
    return ToldAbove(about, recipe, start_s, tuple(remarks))


def rate_in(text: str) -> float | None:
    """The rate in "50 Hz"; None where the text is none."""
    found = _RATE.fullmatch(text.strip())
    rate = float(found[1].replace(",", ".")) if found and len(found[1]) < 20 else 0.0
    return rate if 0 < rate < 1e6 else None


def date_in(text: str) -> float | None:
    """Seconds since 1970 of "2024-03-05 10:00:00"; None where the text is not a date with the year first."""
    if not re.match(r"\d{4}-?\d\d-?\d\d", text):
        return None
    try:
        return from_dates([text]).origin_s
    except Problem:
        return None


def _unfit(key: str, value: str, what: str, ours: str) -> Problem:
    return Problem("preamble", f'Above the table, {key} says "{shown(value, 40)}", which is not {what}.',
                   f"Correct it, or leave {ours} out of [preamble] in the recipe.", field="preamble",
                   value=shown(value))
