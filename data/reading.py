"""One file's bytes to one checked recording, by a recipe and by what the file itself says beyond doubt."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np

from data import stamps as clock
from data import timebase, units
from data.headers import complete, position
from data.layout import Layout, find_layout
from data.problem import Problem
from data.recipe import Recipe, Table
from data.recording import About, Recording, Remark
from data.tables import column_name, line_of_row, read_columns, read_texts
from data.text import Text, decode
from data.timebase import TimeBase

PLAUSIBLE_RATES_HZ = (4.0, 4000.0)
"""Human movement is logged at rates between these: common practice, no source."""


@dataclass(frozen=True, eq=False)
class _Contents:
    """What stands in the columns, rows without a sample taken out.

    `seconds`: (n,) or None without stamps; `rows`: (n,) row numbers of the samples, None where all rows are there.
    """

    axes: list[np.ndarray]
    seconds: np.ndarray | None
    resolution_s: float
    rows: np.ndarray | None


def read_recording(raw: bytes, name: str, recipe: Recipe, about: About | None = None) -> tuple[Recording, Recipe]:
    """The recording in a file's bytes, and the recipe with all that was found out, which reads the same again.

    `about`: what the file's name said; it defaults to the recipe's. Raises Problem with line, column and value.
    """
    text = decode(raw, recipe.table.encoding)
    layout = find_layout(text, recipe.table)
    full, said = complete(recipe, layout)
    remarks = [*_layout_remarks(text, layout, recipe.table), *said]
    with _rows_as_lines(text, layout):
        contents, noticed = _contents(text, layout, full)
        samples, noticed_units = _samples(contents, layout, full)
        base, stamps_kind = _time_base(contents, full)
    if base.order is not None:
        samples = samples[base.order]
    clipped, clipping = _clipped(samples, full)
    recording = Recording(
        name=name,
        samples=samples,
        unit="counts" if full.units.acceleration == "counts" else "g",
        rate_hz=base.rate_hz,
        fitted_rate_hz=base.fitted_rate_hz,
        rate_known=base.rate_known,
        stretches=base.stretches,
        clipped=clipped,
        remarks=(*remarks, *noticed, *noticed_units, *base.remarks, *clipping),
        sha256=hashlib.sha256(raw).hexdigest(),
        about=recipe.about if about is None else about,
    )
    return recording, _resolved(full, text, layout, stamps_kind)


@contextmanager
def _rows_as_lines(text: Text, layout: Layout) -> Iterator[None]:
    """Checks of arrays know rows; people know lines."""
    try:
        yield
    except Problem as problem:
        if problem.row is None or problem.line is not None:
            raise
        raise problem.on(line_of_row(text, layout, problem.row)) from problem


def _layout_remarks(text: Text, layout: Layout, asked: Table) -> list[Remark]:
    remarks = []
    if text.encoding not in ("utf-8", "utf-8-sig") and not asked.encoding:
        remarks.append(Remark("encoding", f"Read as {text.encoding} text."))
    if (layout.delimiter, layout.decimal) != (",", ".") and not (asked.delimiter and asked.decimal):
        name = {"\t": "tab", " ": "space"}.get(layout.delimiter, f'"{layout.delimiter}"')
        said = f'The delimiter that fits every row is {name}, the decimal sign "{layout.decimal}".'
        remarks.append(Remark("layout", said))
    above = layout.first_row - 1 - bool(layout.names) - asked.skip_lines
    if above > 0:
        said = f"The rows begin at line {layout.first_row}; what stands above was not used."
        remarks.append(Remark("lines_above", said))
    return remarks


def _contents(text: Text, layout: Layout, recipe: Recipe) -> tuple[_Contents, list[Remark]]:
    missing = recipe.table.missing or ()
    axes = [position(c, layout, axis) for c, axis in zip(_axes(recipe), "xyz", strict=True)]
    remarks: list[Remark] = []
    seconds, resolution = None, 0.0
    if recipe.columns.time and recipe.units.time == "iso":
        columns = read_columns(text, layout, axes, missing)
        place = position(recipe.columns.time, layout, "time")
        seconds, resolution, said = clock.from_dates(read_texts(text, layout, place))
        remarks += said
    elif recipe.columns.time:
        place = position(recipe.columns.time, layout, "time")
        time, *columns = read_columns(text, layout, [place, *axes], missing)
        seconds, resolution, said = clock.in_seconds(time, recipe.units.time)
        remarks += said
    else:
        columns = read_columns(text, layout, axes, missing)
    rows = _rows_there(columns, seconds) if missing else None
    if rows is not None:
        remarks.append(Remark("missing", f"{len(columns[0]) - len(rows)} rows hold no sample and are left out."))
        columns = [column[rows] for column in columns]
        seconds = None if seconds is None else seconds[rows]
    if recipe.table.missing is None:
        for column, place in zip(columns, axes, strict=True):
            problem = units.find_sentinel(column, column_name(layout, place))
            if problem:
                raise problem
    return _Contents(columns, seconds, resolution, rows), remarks


def _axes(recipe: Recipe) -> tuple[int | str, int | str, int | str]:
    return recipe.columns.x, recipe.columns.y, recipe.columns.z


def _rows_there(columns: list[np.ndarray], seconds: np.ndarray | None) -> np.ndarray | None:
    """The rows with a value in every column; None where that is all of them."""
    there = np.isfinite(np.sum(columns, axis=0) if seconds is None else np.sum([*columns, seconds], axis=0))
    if there.all():
        return None
    if not there.any():
        raise Problem("empty", 'Every row holds a value that means "missing".', "Correct missing in the recipe.")
    return np.flatnonzero(there)


def _samples(contents: _Contents, layout: Layout, recipe: Recipe) -> tuple[np.ndarray, list[Remark]]:
    unit = recipe.units.acceleration
    if unit == "counts":
        names = [column_name(layout, position(c, layout, "an axis")) for c in _axes(recipe)]
        samples = units.to_counts(contents.axes, names, recipe.front_end)
        remark = units.check_rest_counts(samples, recipe.front_end) if recipe.front_end else None
    else:
        samples = units.to_g(contents.axes, unit)
        remark = units.check_rest(samples, unit)
    return samples, [remark] if remark else []


def _time_base(contents: _Contents, recipe: Recipe) -> tuple[TimeBase, str]:
    """The grid, and what the stamps were taken for."""
    rates = recipe.clock.rates_hz
    kind = recipe.clock.stamps
    if contents.seconds is None or kind == "even":
        return timebase.even(len(contents.axes[0]), rates, contents.seconds, contents.rows), "even"
    if len(contents.seconds) < 2:
        raise Problem("too_short", "There is a single sample.", "Record for longer.")
    if kind == "bursts":
        return _plausible(timebase.from_bursts(contents.seconds, rates), recipe.units.time), kind
    if not kind and timebase.look_like_bursts(contents.seconds):
        raise Problem(
            "stamps_unknown",
            "The times come in bursts, much closer together than the samples can have been taken.",
            "Say what they are: --stamps bursts (a buffer was read; put them back on an even grid), even (ignore them) "
            'or "as stamped"; or stamps under [time] in a recipe.',
        )
    base = timebase.as_stamped(contents.seconds, rates, contents.resolution_s)
    return _plausible(base, recipe.units.time), "as stamped"


def _plausible(base: TimeBase, unit: str) -> TimeBase:
    """The base, unless its rate is one that nobody logs movement at: then the unit of time is wrong."""
    low, high = PLAUSIBLE_RATES_HZ
    if low <= base.fitted_rate_hz <= high or unit == "iso":
        return base
    per_second = base.fitted_rate_hz / clock.PER_SECOND[unit]
    fits = next((other for other, per in clock.PER_SECOND.items() if low <= per_second * per <= high), "")
    raise Problem(
        "time_unit_doubtful",
        f"With times in {unit} the samples would come at {base.fitted_rate_hz:.3g} Hz.",
        f"It is {per_second * clock.PER_SECOND[fits]:.3g} Hz if the unit is {fits}: --time-unit {fits}."
        if fits
        else "Choose another column of times or another unit (--columns, --time-unit).",
    )


def _clipped(samples: np.ndarray, recipe: Recipe) -> tuple[int, list[Remark]]:
    if samples.dtype == np.int16:
        bits = recipe.front_end.bits if recipe.front_end else 16
        low, high = float(-(1 << (bits - 1))), float((1 << (bits - 1)) - 1)
        unit = " counts"
    else:
        low, high = units.clipping_limits(samples, recipe.units.range_g)
        unit = " g"
    clipped = units.count_clipped(samples, low, high)
    if not clipped:
        return 0, []
    limit = min(abs(low), abs(high))
    times = "One sample stands" if clipped == 1 else f"{clipped} samples stand"
    return clipped, [Remark("clipped", f"{times} at the logger's limit, ±{limit:.4g}{unit}: peaks there are cut off.")]


def _resolved(recipe: Recipe, text: Text, layout: Layout, stamps_kind: str) -> Recipe:
    table = replace(
        recipe.table,
        delimiter=layout.delimiter,
        decimal=layout.decimal,
        encoding=text.encoding,
        header=bool(layout.names),
    )
    return replace(recipe, table=table, clock=replace(recipe.clock, stamps=stamps_kind))
