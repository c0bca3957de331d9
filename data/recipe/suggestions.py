"""What an import leaves open, and for each of it what fits: a suggestion with its reason, and what every choice does.

Nothing here decides: a person takes a suggestion or says something else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from data.formats.column_names import axes_of, complete, position
from data.formats.optional_files import open_sheet
from data.formats.row_choice import chosen_rows
from data.formats.sheet import Sheet
from data.formats.text_layout import is_number
from data.problem import Problem, counted
from data.recipe.name_pattern import match
from data.recipe.pattern_guess import guess_pattern
from data.recipe.preview import FileHead, Preview, preview
from data.recipe.recipe import Recipe
from data.recipe.sections import STAMPS, Column, ColumnNames, RowChoice
from data.recipe.structure import (
    FIELDS,
    Suggestion,
    keys_above,
    level_of,
    like_gravity,
    nodes_seen,
    partings,
    quantity_column,
)
from data.recordings.reading import PLAUSIBLE_RATES_HZ
from data.recordings.sampling import front_ends_in_words
from data.recordings.units import PER_G, REST_HIGH_G, REST_LOW_G, STILL_SHARE, at_rest
from data.timing.stamps import PER_SECOND
from data.timing.time_base import look_like_bursts, nominal_rate

CUSTOMARY_RATES_HZ = (
    10.0, 12.5, 20.0, 25.0, 26.0, 30.0, 31.25, 32.0, 40.0, 50.0, 52.0, 60.0, 62.5, 64.0, 75.0, 80.0, 100.0, 104.0,
    119.0, 120.0, 125.0, 128.0, 150.0, 200.0, 208.0, 238.0, 250.0, 256.0, 400.0, 416.0, 476.0, 500.0, 512.0, 800.0,
    952.0, 1000.0, 1600.0, 3200.0)
"""Rates that loggers of movement commonly have: common practice, no source."""

MOST_TRIPLES = 40
NEARLY = 2.0
"""A second triple of columns that is at most so many times as unsteady leaves open which is the accelerometer."""


def suggestions(shown: Preview, recipe: Recipe, names: Sequence[str] = (),
                others: Sequence[FileHead] = ()) -> tuple[Suggestion, ...]:
    """One for each open thing that the content speaks for, for the recipe as it is now.

    `names`: of all the files that are to be read; `others`: heads of some of them, to see their rates and
    where gravity is.
    """
    found: list[Suggestion] = []
    if shown.sheet is not None and shown.chosen is not None:
        found += _above(shown.sheet, recipe)
        found += _rows(shown.sheet, recipe)
        found += partings(shown.sheet, recipe)
        found += _columns(shown.chosen, recipe, others)
        for suggest in (_acceleration, _time):
            found += suggest(shown.chosen, recipe)
        found += _stamps(shown, recipe)
        found += _rates(shown, recipe, others)
        found += _missing(shown, recipe)
    return (*found, *_pattern(recipe, names), *_kind(recipe, names))


def all_taken(head: FileHead, recipe: Recipe, names: Sequence[str] = (), others: Sequence[FileHead] = ()) -> Recipe:
    """The recipe with every suggestion taken, and those that follow from them."""
    for _ in FIELDS:
        found = suggestions(preview(head, recipe), recipe, names, others)
        if not found:
            break
        recipe = found[0].recipe
    return recipe


# Lines above, rows and columns.


def _above(sheet: Sheet, recipe: Recipe) -> list[Suggestion]:
    """What lines above the table say of the recording, as far as nobody said it."""
    said = dict(sheet.layout.preamble)
    keys = {field: key for field, key in keys_above(sheet.layout.preamble).items()
            if not getattr(recipe.preamble, field) and not (field == "rate" and recipe.clock.rates_hz)}
    if not keys:
        return []
    words = ", ".join(f"{field} in {key}" for field, key in keys.items())
    told = "; ".join(f"{key} is {said[key]}" for key in keys.values())
    return [Suggestion("preamble", words, f"by their names; above this file's table {told}. Each file is read with its "
                       "own.", replace(recipe, preamble=replace(recipe.preamble, **keys)))]



def _rows(sheet: Sheet, recipe: Recipe) -> list[Suggestion]:
    """Of a long file the rows that read as gravity does, where just one value's do."""
    column = quantity_column(sheet)
    columns = _known_columns(sheet, recipe) if column and recipe.rows.column == "" else None
    if columns is None:
        return []
    found = like_gravity(sheet, column, (columns.x, columns.y, columns.z))
    if len(found) != 1:
        return []
    value, level, unit = found[0]
    why = (f"{column} says the quantity of a row, and at rest |a| of the rows with {value} is {level:.4g}: "
           f"{level / PER_G[unit]:.2f} g if it is in {unit}. No other value's rows read as gravity does.")
    return [Suggestion("rows", f"{column} is {value}", why, replace(recipe, rows=RowChoice(column, (value,))))]


def _columns(sheet: Sheet, recipe: Recipe, others: Sequence[FileHead]) -> list[Suggestion]:
    if recipe.nodes or nodes_seen(sheet) or (recipe.columns.x and recipe.columns.y and recipe.columns.z):
        return []
    try:
        complete(_with_units(recipe, acceleration="g", time="s"), sheet.layout)
        return []
    except Problem as problem:
        if problem.kind not in ("columns_unknown", "column_missing"):
            return []
    rising = _rising_columns(sheet)
    time = recipe.columns.time or (_called(sheet, rising[0]) if rising else "")
    taken = {*rising, *([position(time, sheet.layout, "time")] if time else [])}
    sheets = [sheet, *_alike(sheet, recipe, others)]
    steadiest = _steadiest_triple(sheets, taken)
    if steadiest is None:
        return []
    axes = x, y, z = tuple(_called(sheet, place) for place in steadiest.places)
    files = f" in {len(sheets)} files" if len(sheets) > 1 else ""
    why = (f"|a| of {x}, {y} and {z} stays near {steadiest.level:.4g} at rest (± {steadiest.spread:.2g}){files}, as "
           "gravity does")
    if time:
        why += f"; {time} rises from row to row, as time does"
    words = ", ".join(str(one) for one in (*([time] if time else []), *axes))
    columns = replace(recipe.columns, time=time, x=x, y=y, z=z)
    return [Suggestion("columns", words, why + ".", replace(recipe, columns=columns))]


def _called(sheet: Sheet, place: int) -> Column:
    names = sheet.layout.names
    return names[place] if names and names.count(names[place]) == 1 else place + 1


def _numbers(sheet: Sheet, place: int) -> np.ndarray | None:
    """What a column holds, where that is numbers throughout and more than one of them."""
    values = _whole(sheet, [place]).get(place, np.empty(0))
    values = values[np.isfinite(values)]
    return values if len(values) > 1 else None


def _whole(sheet: Sheet, places: Sequence[int]) -> dict[int, np.ndarray]:
    """By place the columns that are numbers throughout, as long as the table."""
    try:
        return dict(zip(places, sheet.numbers(places, ("nan",)), strict=True)) if places else {}
    except Problem:  # one of them is not: each by itself
        return {} if len(places) == 1 else {place: column for one in places
                                            for place, column in _whole(sheet, [one]).items()}


def _rising_columns(sheet: Sheet) -> list[int]:
    """Those that rise from row to row, or nearly always: buffers are read out of turn."""
    rising = []
    for place, column in _whole(sheet, [i for i in range(sheet.layout.columns) if sheet.layout.numeric(i)]).items():
        steps = np.diff(column[np.isfinite(column)])
        if len(steps) and np.mean(steps > 0) > 0.5 and np.mean(steps >= 0) > 0.95 and steps.sum() > 0:
            rising.append(place)
    return rising


def _alike(sheet: Sheet, recipe: Recipe, others: Sequence[FileHead]) -> list[Sheet]:
    """The other files, as far as they have as many columns."""
    found = []
    for head in others:
        try:
            other = chosen_rows(open_sheet(head.raw, recipe.table), recipe.rows)
        except Problem:
            continue  # it will be refused with its reason when it is read
        if other.layout.columns == sheet.layout.columns:
            found.append(other)
    return found


@dataclass(frozen=True)
class _Triple:
    """Three columns (from 0) and their common length at rest, medians over files. `unsteady`: how much it moves about
    at rest, or from file to file, as a share of itself: little for gravity, which is the same everywhere."""

    unsteady: float
    places: tuple[int, int, int]
    level: float
    spread: float


def _steadiest_triple(sheets: Sequence[Sheet], taken: set[int]) -> _Triple | None:
    """Three neighbouring columns whose common length hardly moves at rest while they themselves differ. None where
    another three do so nearly as well: they may be a second accelerometer, or a magnetometer."""
    layout = sheets[0].layout
    places = [i for i in range(layout.columns) if i not in taken and layout.numeric(i)]
    triples = _neighbours(places)[:MOST_TRIPLES]
    used = sorted({place for trio in triples for place in trio})
    files = [_whole(sheet, used) for sheet in sheets]
    found = sorted((one for trio in triples if (one := _triple(files, trio)) is not None), key=lambda one: one.unsteady)
    if not found or (len(found) > 1 and found[1].unsteady <= max(STILL_SHARE, NEARLY * found[0].unsteady)):
        return None
    return found[0]


def _neighbours(places: Sequence[int]) -> list[tuple[int, int, int]]:
    """By threes from the first where the columns come out even, as x, y and z of one sensor after the other do; else
    any three side by side."""
    step = 1 if len(places) % 3 else 3
    return [(a, b, c) for a, b, c in zip(places[::step], places[1::step], places[2::step], strict=False) if c - a == 2]


def _triple(files: Sequence[Mapping[int, np.ndarray]], places: tuple[int, int, int]) -> _Triple | None:
    """None where in no file they are numbers that all move."""
    rests = []
    for columns in files:
        if not all(place in columns for place in places):
            continue
        samples = np.column_stack([columns[place] for place in places])
        samples = samples[np.isfinite(samples).all(axis=1)]
        if len(samples) > 1 and (np.ptp(samples, axis=0) > 0).all():
            rests.append(at_rest(samples))
    levels = np.array([rest.level for rest in rests])
    if not rests or not (levels > 0).all():
        return None
    spread = float(np.median([rest.spread / rest.level for rest in rests]))
    level = float(np.median(levels))
    return _Triple(max(spread, float(levels.std()) / level), places, level, spread * level)


# Units.


def rest_level(sheet: Sheet, recipe: Recipe) -> float | None:
    """|a| at rest in whatever unit the columns are in; None while it is open which they are."""
    columns = _known_columns(sheet, recipe)
    if columns is None:
        return None
    return level_of(sheet, axes_of(recipe.nodes[:1], columns), recipe.table.missing or ("nan",))


def _known_columns(sheet: Sheet, recipe: Recipe) -> ColumnNames | None:
    """Which columns are which, said or named beyond doubt."""
    try:
        full = _with_units(recipe, acceleration=recipe.units.acceleration or "g", time=recipe.units.time or "s")
        return complete(full, sheet.layout, sheet.rate_hz)[0].columns
    except Problem:
        return None


def unit_effects(level: float) -> dict[str, str]:
    """For each unit what |a| at rest would be."""
    effects = {unit: f"|a| at rest {level / per_g:.3g} g" for unit, per_g in PER_G.items()}
    said = front_ends_in_words(level)
    return effects | {"counts": f"1 g for {said}" if said else f"|a| at rest {level:.4g} counts"}


def _acceleration(sheet: Sheet, recipe: Recipe) -> list[Suggestion]:
    said = recipe.units.acceleration
    level = rest_level(sheet, recipe)
    if level is None or said not in ("", *PER_G) or (not said and _says(sheet, recipe, "acceleration")):
        return []
    fits = [unit for unit, per_g in PER_G.items() if REST_LOW_G <= level / per_g <= REST_HIGH_G]
    if not fits or said in fits:
        return []
    unit = fits[0]
    why = f"at rest |a| is {level:.4g}: {level / PER_G[unit]:.2f} g, as gravity alone is, if it is in {unit}."
    return [Suggestion("acceleration", unit, why, _with_units(recipe, acceleration=unit))]


def _says(sheet: Sheet, recipe: Recipe, unit: str) -> bool:
    """Whether the file itself says a unit, "acceleration" or "time"."""
    other, open_kind = {"acceleration": ({"time": recipe.units.time or "s"}, "unit_unknown"),
                        "time": ({"acceleration": "g"}, "time_unit_unknown")}[unit]
    try:
        complete(_with_units(recipe, **other), sheet.layout)
    except Problem as problem:
        return problem.kind != open_kind
    return True


def _with_units(recipe: Recipe, **units: Any) -> Recipe:
    return replace(recipe, units=replace(recipe.units, **units))


# Time.


def stamps_of(sheet: Sheet, recipe: Recipe) -> np.ndarray | None:
    """The numbers in the column of times; None without one, or where they are dates."""
    columns = _known_columns(sheet, recipe)
    if columns is None or not columns.time:
        return None
    try:
        place = position(columns.time, sheet.layout, "time")
    except Problem:
        return None  # the recipe is that of other files; that the column is missing is said beside the questions
    return _numbers(sheet, place) if sheet.layout.numeric(place) else None


def time_effects(stamps: np.ndarray) -> dict[str, str]:
    """For each unit the rate that the times would mean."""
    mean = float(np.ptp(stamps)) / (len(stamps) - 1)
    return {unit: f"{per_second / mean:.4g} Hz" for unit, per_second in PER_SECOND.items()} if mean > 0 else {}


def _time(sheet: Sheet, recipe: Recipe) -> list[Suggestion]:
    said = recipe.units.time
    columns = _known_columns(sheet, recipe)
    if columns is None or not columns.time or (not said and _says(sheet, recipe, "time")):
        return []

    def suggest(unit: str, why: str) -> list[Suggestion]:
        return [] if unit == said else [Suggestion("time", unit, why, _with_units(recipe, time=unit))]

    stamps = stamps_of(sheet, recipe)
    if stamps is None:
        return []
    steps = np.diff(stamps)
    if not said and np.all(steps == 1):
        return suggest("samples", "it counts the samples one by one.")
    mean = float(np.ptp(stamps)) / len(steps)
    low, high = PLAUSIBLE_RATES_HZ
    fits = [unit for unit, per in PER_SECOND.items() if mean > 0 and low <= per / mean <= high]
    if not fits or said in fits or said not in ("", *PER_SECOND):
        return []
    rate = PER_SECOND[fits[0]] / mean
    return suggest(fits[0], f"a row comes every {mean:.4g}: {rate:.3g} Hz if it is in {fits[0]}.")


def stamp_effects(shown: Preview, recipe: Recipe) -> dict[str, str]:
    """For each thing that the stamps can be taken for, what this file would become."""
    effects = {}
    for kind in STAMPS:
        tried = preview(shown.head, replace(recipe, clock=replace(recipe.clock, stamps=kind)))
        if tried.facts is not None:
            gaps = f", {counted(tried.facts.gaps, 'gap')}" if tried.facts.gaps else ""
            rate = tried.recording.fitted_rate_hz if tried.recording is not None else tried.facts.rate_hz
            effects[kind] = f"{rate:.4g} Hz, {tried.facts.length_s:.4g} s{gaps}"
        elif tried.problem is not None:
            effects[kind] = tried.problem.message
    return effects


def _stamps(shown: Preview, recipe: Recipe) -> list[Suggestion]:
    if recipe.clock.stamps or shown.chosen is None:
        return []

    def suggest(kind: str, why: str) -> list[Suggestion]:
        return [Suggestion("stamps", kind, why, replace(recipe, clock=replace(recipe.clock, stamps=kind)))]

    stamps = stamps_of(shown.chosen, recipe)
    if stamps is not None and look_like_bursts(stamps):
        steps = np.diff(np.sort(stamps))
        return suggest("bursts", f"most rows come {np.median(steps):.3g} apart, though {steps.mean():.3g} on average: "
                                 "a buffer was read out now and then.")
    columns = _known_columns(shown.chosen, recipe)
    if columns is not None and not columns.time and not shown.chosen.rate_hz:
        return suggest("even", "no column holds times.")
    return []


def _rates(shown: Preview, recipe: Recipe, others: Sequence[FileHead]) -> list[Suggestion]:
    """The customary rates nearest to what the stamps of the files say, where it is open what they are."""
    if recipe.clock.rates_hz:
        return []
    fitted = [rate for head in (shown.head, *others) if (rate := _fitted(head, recipe)) is not None]
    if not fitted:
        return []
    rates = sorted({rate for one in fitted if (rate := nominal_rate(one, CUSTOMARY_RATES_HZ)) is not None})
    settled = shown.facts is not None and shown.facts.rate_known
    if not rates or (settled and len(rates) == 1):
        return []
    low, high = min(fitted), max(fitted)
    came = f"{low:.4g} Hz" if high - low < 0.05 else f"{low:.4g} to {high:.4g} Hz"
    files = f" in {len(fitted)} files" if len(fitted) > 1 else ""
    words = ", ".join(f"{rate:g}" for rate in rates)
    return [Suggestion("rates", words, f"the rows come at {came}{files}: within 3 % of {words} Hz.",
                       replace(recipe, clock=replace(recipe.clock, rates_hz=tuple(rates))))]


def _fitted(head: FileHead, recipe: Recipe) -> float | None:
    tried = preview(head, recipe)
    return None if tried.recording is None or recipe.clock.stamps == "even" else tried.recording.fitted_rate_hz


# The rest.


def _missing(shown: Preview, recipe: Recipe) -> list[Suggestion]:
    problem = shown.problem
    if problem is None or problem.kind not in ("sentinel", "not_finite"):
        return []
    kept = recipe.table.missing or ()
    value: float | str = "nan"
    if problem.kind == "sentinel" and is_number(problem.value, "."):
        value = float(problem.value)
    if value in kept:
        return []
    table = replace(recipe.table, missing=(*kept, value))
    said = "an empty cell" if value == "nan" else f"{value:g}"
    return [Suggestion("missing", said, f"{problem.message} Rows without a sample are then left out, and a gap stays.",
                       replace(recipe, table=table))]


def _kind(recipe: Recipe, names: Sequence[str]) -> list[Suggestion]:
    """Which of the kinds in the files' names are falls, where nobody said what is."""
    if "{kind}" not in recipe.pattern or recipe.labels.falls or recipe.labels.fall_field:
        return []
    kinds = sorted({parts["kind"] for name in names if (parts := match(recipe.pattern, name)) and "kind" in parts})
    falls = tuple(kind for kind in kinds if kind.lower().startswith("fall"))
    if not falls or len(falls) == len(kinds):
        return []
    others = ", ".join(kind for kind in kinds if kind not in falls)
    why = f"{{kind}} in the files' names is {', '.join(falls)} or {others}."
    return [Suggestion("labels", f"{', '.join(falls)} by kind", why,
                       replace(recipe, labels=replace(recipe.labels, falls=falls, fall_field="kind")))]


def _pattern(recipe: Recipe, names: Sequence[str]) -> list[Suggestion]:
    if recipe.pattern or len(names) < 2:
        return []
    guess = guess_pattern(names)
    if guess is None:
        return []
    why = f"it fits {guess.fits} of {guess.names} names; {'; '.join(guess.reasons)}."
    return [Suggestion("pattern", guess.pattern, why, replace(recipe, pattern=guess.pattern))]
