"""Numbers as people read them: a thin space between thousands, a true minus, the unit after a space."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from data.formats.text import inert
from detect.rule.front_end import FrontEnd
from detect.rule.settings import BY_KEY, Unit, Value

THIN = "\u202f"
MINUS = "\u2212"
GAP = "\u00a0"
"""Between a number and its unit: they are never parted at a line's end."""

_LEAST_DECIMALS = {Unit.G: 2, Unit.MS: 0, Unit.DEGREE: 0, Unit.PERCENT: 0}
_MOST_DECIMALS = 4


def decimal(value: float, least: int = 0) -> str:
    """A number with as many decimals as it has, at least `least` and at most four."""
    text = f"{value:,.{_MOST_DECIMALS}f}"
    whole, _, part = text.partition(".")
    part = part.rstrip("0").ljust(least, "0")
    return (whole.replace(",", THIN) + ("." + part if part else "")).replace("-", MINUS)


def with_unit(value: float, unit: Unit) -> str:
    """A setting's value with its unit; ten seconds and more in seconds."""
    if unit is Unit.MS and abs(value) >= 10_000:
        return decimal(value / 1000) + GAP + "s"
    number = decimal(value, _LEAST_DECIMALS.get(unit, 0))
    return number + unit.value if unit is Unit.DEGREE else number + GAP + unit.value


def sensor(front_end: FrontEnd) -> str:
    """"±4 g · 12 bits · 50 Hz"."""
    return (f"±{decimal(front_end.range_g)}{GAP}g · {front_end.bits}{GAP}bits · "
            f"{decimal(front_end.rate_hz)}{GAP}Hz")


def part(number: int, whole: int) -> str:
    """"41 of 45"; a dash where there is nothing to be part of."""
    return f"{decimal(number)} of {decimal(whole)}" if whole else "–"


def plural(number: float, noun: str, many: str = "") -> str:
    """"1 event", "2 events"; `many`: what stands for several where an "s" does not do, as in "1 was", "2 were"."""
    return f"{decimal(number)} {noun if number == 1 else many or noun + 's'}"


COUNTED = {"bits": "bit", "bytes": "byte", "codes": "code", "counts": "count", "days": "day", "erases": "erase",
           "samples": "sample", "years": "year"}
"""Units that are words, and of one."""


def of_unit(number: float, unit: str) -> str:
    """The unit as it stands after this number: "count" after 1."""
    return COUNTED.get(unit, unit) if number == 1 else unit


def duration(seconds: float) -> str:
    """"52 s", "4 min 10 s", "6 h 12 min"."""
    if seconds < 10:
        return f"{seconds:.1f}{GAP}s"
    whole = round(seconds)
    if whole < 60:
        return f"{whole}{GAP}s"
    minutes, rest = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes}{GAP}min" + (f" {rest}{GAP}s" if rest else "")
    hours, minutes = divmod(minutes, 60)
    return f"{hours}{GAP}h" + (f" {minutes}{GAP}min" if minutes else "")


TELLING_S, LEAST_SHARE = 2.0, 0.02
"""Before so long, or with less done, nobody can tell how long the rest takes."""


def seconds_left(rest: float, done: float, took_s: float) -> float | None:
    """How long the share `rest` takes, as the share `done` took so long; None while that says little."""
    return None if took_s < TELLING_S or done < LEAST_SHARE else rest * took_s / done


def time_left(share: float, took_s: float) -> str:
    """"52 s left", by how long the share done took; empty while that says little."""
    seconds = seconds_left(1 - share, share, took_s)
    return f"{duration(max(1, round(seconds)))} left" if seconds is not None and share < 1 else ""


def hours(value: float) -> str:
    return duration(value * 3600)


def which(names: Sequence[str]) -> str:
    """The recording's name, or how many there are."""
    return names[0] if len(names) == 1 else plural(len(names), "recording")


def plainly(text: str) -> str:
    """A number as typed, for float(): either decimal sign, any space, either minus."""
    for space in (" ", THIN, GAP, "\u2009"):
        text = text.replace(space, "")
    return text.replace(MINUS, "-").replace(",", ".")


def tabbed(lines: Iterable[Sequence[str]]) -> str:
    """For a clipboard: tab-separated, a line each."""
    return "".join("\t".join(line) + "\n" for line in lines)


def csv_text(rows: Iterable[Iterable[object]], delimiter: str = ",") -> str:
    """For other programs; a name that a spreadsheet would take for a formula has an apostrophe before it."""
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="\n").writerows(
        [inert(cell) if isinstance(cell, str) else cell for cell in row] for row in rows)
    return text.getvalue()


def spoken(key: str) -> str:
    return BY_KEY[key].spoken


def value_spoken(key: str, value: Value) -> str:
    """With its unit; a switch is on or off."""
    if isinstance(value, bool):
        return "on" if value else "off"
    unit = BY_KEY[key].unit
    if isinstance(value, int | float) and unit not in (Unit.CHOICE, Unit.VECTOR):
        return with_unit(float(value), unit)
    if isinstance(value, tuple):
        return ", ".join(f"{part:g}" for part in value)
    return str(value).replace("_", " ")
