"""Files' bytes to checked recordings, by a recipe and by what the files themselves say beyond doubt."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache, partial
from typing import TypeVar

import numpy as np

from data.formats.column_names import complete
from data.formats.identity_columns import refuse_mixed
from data.formats.joined_files import Gathered, RowPlaces, gather, parts_of
from data.formats.optional_files import open_sheet
from data.formats.row_choice import chosen_rows
from data.formats.sheet import Sheet
from data.formats.text_tables import EMPTY, NOT_THERE
from data.problem import Problem, counted
from data.recipe.recipe import Recipe
from data.recordings.lines_above import ToldAbove, told_above
from data.recordings.model import About, Recording, Remark, WatchedColumn
from data.recordings.orientation import matrix_of, turned
from data.recordings.sampling import clipped_in, samples_of
from data.recordings.units import find_sentinel
from data.timing import stamps as clock
from data.timing import time_base
from data.timing.time_base import TimeBase

PLAUSIBLE_RATES_HZ = (4.0, 4000.0)
"""Human movement is logged at rates between these: common practice, no source."""

_LONG_BYTES = 4_000_000
_LONG_ROWS = 100_000

Result = TypeVar("Result")

MOST_READING, MOST_STAMP = 1e12, 1e30
"""No sensor counts, and no clock ticks, so far."""


@dataclass(frozen=True, eq=False)
class Piece:
    """One of the recordings in a file, read or refused. `part`: what tells it from the others, empty where it is the
    only one. The recipe is complete: with it, this recording reads the same again.
    """

    part: tuple[tuple[str, str], ...]
    about: About
    outcome: tuple[Recording, Recipe] | Problem


def read_recording(raw: bytes, name: str, recipe: Recipe, about: About | None = None) -> tuple[Recording, Recipe]:
    """The one recording in a file's bytes, and the recipe with all that was found out, which reads the same again.

    `about`: what the file's name said; it defaults to the recipe's. Raises Problem with line, column and value.
    """
    pieces = read_recordings([raw], name, recipe, about)
    if len(pieces) > 1:
        said = ", ".join(part_in_words(piece.part) for piece in pieces[:3])
        raise Problem("several", f"The file holds {len(pieces)} recordings: {said}.", "Name one (part in the recipe).")
    if isinstance(pieces[0].outcome, Problem):
        raise pieces[0].outcome
    return pieces[0].outcome


def part_in_words(part: tuple[tuple[str, str], ...]) -> str:
    """("trial", "3"), ("node", "ankle") as 3:ankle."""
    return ":".join(value for _, value in part)


def read_recordings(
    raws: Sequence[bytes], name: str, recipe: Recipe, about: About | None = None, files: Sequence[str] = ()
) -> list[Piece]:
    """Every recording in one file, or in several that continue each other.

    `files`: their names, where there are several. Raises Problem where the files as such can't be read.
    """
    with _beside(partial(fingerprint, raws), sum(map(len, raws)) > _LONG_BYTES) as sha256:
        return _read(raws, name, recipe, about, files or [name] * len(raws), sha256)


def _read(raws: Sequence[bytes], name: str, recipe: Recipe, about: About | None, files: Sequence[str],
          sha256: Callable[[], str]) -> list[Piece]:
    sheets: list[Sheet] = []
    for raw, file in zip(raws, files, strict=True):
        try:
            sheets.append(chosen_rows(open_sheet(raw, recipe.table), recipe.rows))
        except Problem as problem:
            raise (problem.at(file) if len(files) > 1 else problem) from problem
    told = told_above(sheets[0].layout.preamble, recipe, about or recipe.about)
    full, said = complete(told.recipe, sheets[0].layout, sheets[0].rate_hz)
    full = replace(full, table=sheets[0].table)
    places = RowPlaces(sheets, files)
    gathered = gather(sheets, full, places, files)
    refuse_mixed(sheets, gathered, full)
    remarks = (*sheets[0].remarks, *told.remarks, *said, *gathered.remarks)
    made = _Making(gathered, full, places, remarks, sha256, name, told)
    return [made.piece(part, rows, node) for part, rows in parts_of(gathered, full) for node in gathered.axes]


@contextmanager
def _beside(work: Callable[[], Result], long: bool) -> Iterator[Callable[[], Result]]:
    """What it comes to, for whoever asks for it later; where it takes `long`, worked out in a thread meanwhile."""
    if not long:
        yield cache(work)
        return
    with ThreadPoolExecutor(1) as thread:
        yield thread.submit(work).result


def fingerprint(raws: Sequence[bytes]) -> str:
    """SHA-256 of the file; of several, of all one after the other."""
    digest = hashlib.sha256()
    for raw in raws:
        digest.update(raw)
    return digest.hexdigest()


@dataclass(frozen=True, eq=False)
class _Making:
    """What all recordings of a file have in common."""

    gathered: Gathered
    recipe: Recipe
    places: RowPlaces
    remarks: tuple[Remark, ...]
    sha256: Callable[[], str]
    name: str
    told: ToldAbove

    def piece(self, part: tuple[tuple[str, str], ...], rows: np.ndarray | None, node: str) -> Piece:
        """One recording; `rows`: those of it, None for all."""
        whole = (*part, ("node", node)) if node else part
        about = self.told.about.with_told(dict(whole))
        try:
            return Piece(whole, about, self._made(whole, about, rows, node))
        except Problem as problem:
            return Piece(whole, about, problem)

    def _made(
        self, part: tuple[tuple[str, str], ...], about: About, rows: np.ndarray | None, node: str
    ) -> tuple[Recording, Recipe]:
        mine = _Rows(self.gathered, self.recipe, rows, node)
        try:
            recording, stamps_kind = mine.recording(self.name, about)
        except Problem as problem:
            if problem.row is None or problem.line is not None:
                raise
            raise self.places.found(problem, mine.row_in_files(problem.row)) from problem
        name = f"{self.name}:{part_in_words(part)}" if part else self.name
        group = ":".join([self.name, *(value for key, value in part if key != "node")]) if about.node and part else ""
        recording = replace(
            self.told.placed(recording), name=name, sha256=self.sha256(),
            remarks=(*self.remarks, *recording.remarks), group=group
        )
        return recording, replace(self.recipe, part=part, clock=replace(self.recipe.clock, stamps=stamps_kind))


class _Rows:
    """The rows of one recording, on their way to being it."""

    def __init__(self, gathered: Gathered, recipe: Recipe, rows: np.ndarray | None, node: str) -> None:
        self._gathered, self._recipe, self._rows, self._node = gathered, recipe, rows, node
        self._remarks: list[Remark] = []
        self._numbers: np.ndarray | None = None
        """Row numbers among this recording's own rows, once some without a sample were left out."""

    def row_in_files(self, row: int) -> int:
        """The row of all files together, from that of this recording's rows as they are now."""
        return row if self._rows is None else int(self._rows[row])

    def recording(self, name: str, about: About) -> tuple[Recording, str]:
        """The recording without what its file has in common, and what its stamps were taken for."""
        self._leave_out_missing()
        self._leave_out_repeats()
        recipe = self._recipe
        columns, names = self._axes(), self._gathered.names[self._node]
        time = self._gathered.time
        ends = [_sane_ends(column, called, MOST_READING) for column, called in zip(columns, names, strict=True)]
        if isinstance(time, np.ndarray):
            _sane_ends(self._some(time), "of times", MOST_STAMP)
        times = self._times()
        if recipe.table.missing is None:
            for column, called, least_and_most in zip(columns, names, ends, strict=True):
                problem = find_sentinel(column, called, least_and_most)
                if problem:
                    raise problem
        supply = self._gathered.supply
        with _beside(partial(self._time_base, times), len(columns[0]) > _LONG_ROWS) as base_and_kind:
            samples, remark = samples_of(columns, names, recipe, None if supply is None else self._some(supply))
            base, kind = base_and_kind()
        if base.order is not None:
            samples = samples[base.order]
        clipped, clipping = clipped_in(samples, recipe)
        most = (1 << (recipe.front_end.bits - 1)) - 1 if recipe.front_end else 32767
        samples = turned(samples, matrix_of(recipe.axes), most)
        noticed = [*self._remarks, *(times.remarks if times else ()), *([remark] if remark else []), *base.remarks]
        return Recording(
            name=name,
            samples=samples,
            unit="counts" if recipe.units.acceleration == "counts" else "g",
            rate_hz=base.rate_hz,
            fitted_rate_hz=base.fitted_rate_hz,
            rate_known=base.rate_known,
            stretches=base.stretches,
            clipped=clipped,
            remarks=(*noticed, *clipping),
            about=about,
            origin_s=times.origin_s if times else None,
            asides=tuple(self._asides()),
        ), kind

    def _some(self, column: np.ndarray) -> np.ndarray:
        return column if self._rows is None else column[self._rows]

    def _axes(self) -> list[np.ndarray]:
        return [self._some(column) for column in self._gathered.axes[self._node]]

    def _leave_out_missing(self) -> None:
        """Rows without a value in every column."""
        if not self._recipe.table.missing:
            return
        columns = self._axes()
        time = self._gathered.time
        if isinstance(time, np.ndarray):
            columns.append(self._some(time))
        elif time is not None and EMPTY in self._recipe.table.missing:
            columns.append(np.array([np.nan if text.lower() in NOT_THERE else 0.0 for text in self._texts(time)]))
        there = np.isfinite(np.sum(columns, axis=0))
        if there.all():
            return
        if not there.any():
            raise Problem("empty", 'Every row holds a value that means "missing".', "Correct missing in the recipe.")
        missing = counted(int((~there).sum()), "row holds no sample and is", "rows hold no sample and are")
        self._remarks.append(Remark("missing", f"{missing} left out."))
        self._numbers = np.flatnonzero(there)
        self._keep(self._numbers)

    def _keep(self, kept: np.ndarray) -> None:
        self._rows = kept if self._rows is None else self._rows[kept]

    def _leave_out_repeats(self) -> None:
        """Rows that stand there twice running: same stamp, same values."""
        time = self._gathered.time
        if self._recipe.clock.repeats != "drop" or time is None:
            return
        columns = self._axes()
        stamps = self._some(time) if isinstance(time, np.ndarray) else self._texts(time)
        same = np.all([column[1:] == column[:-1] for column in (*columns, np.asarray(stamps))], axis=0)
        if same.any():
            twice = counted(int(same.sum()), "row occurs", "rows occur")
            self._remarks.append(Remark("repeats", f"{twice} twice; one of each is left out."))
            kept = np.flatnonzero(~np.concatenate([[False], same]))
            self._numbers = None if self._numbers is None else self._numbers[kept]
            self._keep(kept)

    def _texts(self, time: list[str]) -> list[str]:
        return time if self._rows is None else [time[row] for row in self._rows]

    def _times(self) -> clock.Times | None:
        time = self._gathered.time
        if time is None:
            return None
        if isinstance(time, list):
            return clock.from_dates(self._texts(time))
        return clock.in_seconds(self._some(time), self._recipe.units.time, self._recipe.clock)

    def _time_base(self, times: clock.Times | None) -> tuple[TimeBase, str]:
        """The grid, and what the stamps were taken for."""
        rates, kind, unit = self._recipe.clock.rates_hz, self._recipe.clock.stamps, self._recipe.units.time
        count = len(self._axes()[0])
        if times is None or kind == "even":
            even = time_base.even(count, rates, times.seconds if times else None, self._numbers)
            return _plausible(even, unit if times else "", rates), "even"
        if count < 2:
            raise Problem("too_short", "There is a single sample.", "Record for longer.")
        self._refuse_a_silent_wrap()
        if unit == "samples" and kind != "bursts":
            given = self._recipe.clock
            base = time_base.numbered(times.seconds * rates[0], rates[0], given.offset_s, given.drift_ppm)
            return _plausible(base, unit, rates), "as-stamped"
        if kind == "bursts":
            return _plausible(time_base.from_bursts(times.seconds, rates), unit, rates), kind
        if not kind and time_base.look_like_bursts(times.seconds):
            raise Problem(
                "stamps_unknown",
                "The times come in bursts, much closer together than the samples can have been taken.",
                'Say what they are: "bursts" (a buffer was read; put them back on an even grid), "even" (ignore them) '
                'or "as-stamped".',
                field="time.stamps",
                fits="bursts",
            )
        base = time_base.as_stamped(times.seconds, rates, times.resolution_s)
        return _plausible(base, unit, rates), "as-stamped"

    def _refuse_a_silent_wrap(self) -> None:
        """A step back that a counter's start from nought explains is told so."""
        time = self._gathered.time
        if not isinstance(time, np.ndarray) or self._recipe.clock.wrap:
            return
        stamps = self._some(time)
        back = np.flatnonzero(np.diff(stamps) < 0) + 1
        wrap = clock.wrap_in_sight(stamps, int(back[0])) if len(back) else 0.0
        if wrap:
            row = int(back[0])
            raise Problem(
                "time_wrap",
                f"The time goes back from {stamps[row - 1]:g} to {stamps[row]:g}, as a counter does that rolls over.",
                f"If it rolls over at {wrap:.0f}, write wrap = {wrap:.0f} under [time] in a recipe.",
                row=row,
                value=f"{stamps[row]:g}",
            )

    def _asides(self) -> list[WatchedColumn]:
        found = []
        for kind, column in self._gathered.watched.items():
            values = self._some(column)
            values = values[np.isfinite(values)]
            if len(values):
                tenth = max(1, len(values) // 10)
                first, last = float(values[:tenth].mean()), float(values[-tenth:].mean())
                found.append(WatchedColumn(kind, first, last, float(values.min()), float(values.max())))
        return found


def _sane_ends(column: np.ndarray, name: str, most: float) -> tuple[float, float]:
    """The least and the largest number. Raises Problem (with its `row`) for one so large that it can only be damage,
    before it overflows."""
    low, high = float(column.min()), float(column.max())
    if max(high, -low) > most:
        row = int(np.argmax(np.abs(column) > most))
        value = f"{column[row]:g}"
        raise Problem("too_large", f"{value} in column {name} is not a reading.", "Correct or remove the line.",
                      row=row, column=name, value=value)
    return low, high


def _plausible(base: TimeBase, unit: str, rates_hz: tuple[float, ...]) -> TimeBase:
    """The base, unless its rate is one that nobody logs movement at: then the unit of time, or the rate, is wrong."""
    low, high = PLAUSIBLE_RATES_HZ
    if low <= base.fitted_rate_hz <= high:
        return base
    rate, bounds = f"{base.fitted_rate_hz:.3g} Hz", f"Movement is logged at {low:g} to {high:g} Hz."
    if unit in ("", "samples") or rates_hz == (base.fitted_rate_hz,):
        raise Problem("rate_doubtful", f"The samples would come at {rate}. {bounds}", "Correct the rate.",
                      field="time.rates_hz", value=f"{base.fitted_rate_hz:g}")
    if unit == "iso":
        raise Problem("time_unit_doubtful", f"By the dates the samples would come at {rate}. {bounds}",
                      "Choose another column of times, or ignore the stamps and name the rate.", field="columns")
    message = f"With times in {unit} the samples would come at {rate}."
    if unit == "ticks":
        raise Problem("time_unit_doubtful", message, "Correct ticks_hz under [time] in the recipe.")
    per_second = base.fitted_rate_hz / clock.PER_SECOND[unit]
    fits = next((other for other, per in clock.PER_SECOND.items() if low <= per_second * per <= high), "")
    raise Problem(
        "time_unit_doubtful",
        message,
        f"It is {per_second * clock.PER_SECOND[fits]:.3g} Hz if the unit is {fits}."
        if fits
        else "Choose another column of times or another unit.",
        field="units.time",
        fits=fits,
    )
