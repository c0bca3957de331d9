"""`plumbfall read SOURCE… --study FILE`: import recordings; a line for each file, nothing refused silently."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import fields, replace
from pathlib import Path

from app.cli.output import (
    DONE,
    INTERRUPTED,
    OPTIONS,
    WRONG_INPUT,
    complain,
    print_json,
    print_table,
    progress,
    until_interrupted,
)
from app.formatting import plural
from app.study.importing import sources
from app.study.importing.sources import REPEATS
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.state import Study
from app.study.storage.study_files import plain_front_end
from app.study.storage.study_lock import alone
from data.formats.text_layout import is_number
from data.problem import Problem, alike, shown
from data.recipe.recipe import Recipe, read_recipe
from data.recipe.sections import ACCELERATION_UNITS, STAMPS, TIME_UNITS, Column, ColumnNames, RowChoice, SplitColumns
from data.recordings.batch import Batch, ReadRecording, Refused

MOST_DIGITS = 6
"""A column with a longer number is none: it is a name."""


def with_options(recipe: Recipe, unit: str = "", time_unit: str = "", rates_hz: Sequence[float] = (),
                 columns: str = "", stamps: str = "", split: Sequence[str] = (), one_recording: bool = False,
                 falls: str = "", whole_recordings: bool = False, rows: str = "", names: Sequence[str] = ()) -> Recipe:
    """The recipe with every option that was given in its place. Raises Problem (kind "option")."""
    _one_of("--unit", unit, ACCELERATION_UNITS)
    _one_of("--time-unit", time_unit, TIME_UNITS)
    _one_of("--stamps", stamps, STAMPS)
    for rate in rates_hz:
        if not 0 < rate < 1e6:
            raise _not_a_rate(f"{rate:g}")
    units, clock, labels = recipe.units, recipe.clock, recipe.labels
    by, sign, after = falls.rpartition("=")
    named = tuple(part.strip() for part in after.split(",") if part.strip())
    return replace(
        recipe, columns=columns_named(columns, recipe.columns) if columns else recipe.columns,
        rows=rows_named(rows) if rows else recipe.rows, names=names_named(names) or recipe.names,
        labels=replace(labels, falls=named or labels.falls, fall_field=by.strip() if sign else labels.fall_field,
                       whole_recordings=whole_recordings or labels.whole_recordings),
        split=replace(recipe.split, **split_named(split)), one_recording=one_recording or recipe.one_recording,
        units=replace(units, acceleration=unit or units.acceleration, time=time_unit or units.time),
        clock=replace(clock, stamps=stamps or clock.stamps, rates_hz=tuple(rates_hz) or clock.rates_hz))


def _one_of(option: str, value: str, choices: Sequence[str]) -> None:
    if value and value not in choices:
        said = ", ".join(choices)
        raise Problem("option", f'{option} must be one of {said}; it is "{value}".', "Correct it.", value=value)


def rates_named(text: str) -> tuple[float, ...]:
    """Nominal rates from "50" or "40, 50"; none from an empty text. Raises Problem where a part is not a rate."""
    rates = []
    for part in filter(None, (part.strip() for part in text.split(","))):
        if not is_number(part, ".") or not 0 < float(part) < 1e6:
            raise _not_a_rate(part)
        rates.append(float(part))
    return tuple(rates)


def _not_a_rate(said: str) -> Problem:
    message = f'--rate must be a number of Hz above 0, or several with commas between; it is "{shown(said)}".'
    return Problem("option", message, "Correct it, such as --rate 50 or --rate 40,50.", value=shown(said))


def columns_named(text: str, known: ColumnNames | None = None) -> ColumnNames:
    """Columns from "TIME,X,Y,Z" or "X,Y,Z", names or numbers from 1. Raises Problem where there are not so many."""
    parts = [_column(part.strip()) for part in text.split(",")]
    if len(parts) not in (3, 4) or any(part in ("", 0) for part in parts) or len(set(parts)) < len(parts):
        raise Problem("option", "--columns must name three columns (x, y, z) or four (time first), each once; it is "
                      f'"{text}".', "Correct it, such as --columns time,ax,ay,az or --columns 1,2,3,4.", value=text)
    time = parts[0] if len(parts) == 4 else (known.time if known else "")
    x, y, z = parts[-3:]
    return ColumnNames(time, x, y, z)


def split_named(said: Sequence[str]) -> dict[str, Column]:
    """Columns that part a file, from "node=sensor_id". Raises Problem where one says something else."""
    keys = [f.name for f in fields(SplitColumns)]
    found: dict[str, Column] = {}
    for one in said:
        key, sign, column = (part.strip() for part in one.partition("="))
        if key not in keys or not sign or not column:
            raise Problem("option", f'--split must be KEY=COLUMN, with one of {", ".join(keys)} as KEY; it is "{one}".',
                          "Correct it, such as --split node=sensor_id.", value=one)
        found[key] = _column(column)
    return found


def rows_named(text: str) -> RowChoice:
    """Which rows are acceleration, from "sensor type=0". Raises Problem where it says something else."""
    column, sign, values = (part.strip() for part in text.partition("="))
    wanted = tuple(part.strip() for part in values.split(",") if part.strip())
    if not column or not sign or not wanted:
        raise Problem("option", f'--rows must be COLUMN=VALUE, or several values with commas between; it is "{text}".',
                      'Correct it, such as --rows "sensor type=0".', value=text)
    return RowChoice(_column(column), wanted)


def names_named(said: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """What nodes are called, from "4=ankle". Raises Problem where one says something else, or two say the same."""
    pairs = [tuple(part.strip() for part in one.partition("=")[::2]) for one in said]
    if not all(key and name for key, name in pairs) or len({name for _, name in pairs}) < len(pairs) \
            or len({key for key, _ in pairs}) < len(pairs):
        raise Problem("option", f'--name must be ID=NAME, each a different one; it is "{", ".join(said)}".',
                      "Correct it, such as --name 4=ankle.", value=", ".join(said))
    return tuple((key, name) for key, name in pairs)


def _column(text: str) -> Column:
    return int(text) if text.isascii() and text.isdigit() and len(text) < MOST_DIGITS else text


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("read", help="import recordings into a study",
                                 epilog="plumbfall recipe FILE drafts a recipe; plumbfall recipe --page prints what "
                                 "one can say.")
    command.add_argument("sources", metavar="SOURCE", nargs="+", type=Path, help="files and folders")
    command.add_argument("--study", metavar="FILE", type=Path, required=True,
                         help="the study to write; recordings are added to one that is there")
    command.add_argument("--recipe", metavar="FILE", type=Path,
                         help="a recipe: how such files are read (TOML); see plumbfall recipe --page")
    command.add_argument("--labels", metavar="FILE", type=Path, action="append", default=[],
                         help="a table of what happened when; may be given again")
    command.add_argument("--unit", choices=ACCELERATION_UNITS, help="unit of acceleration")
    command.add_argument("--time-unit", choices=TIME_UNITS, help="unit of the time column")
    command.add_argument("--rate", metavar="HZ[,HZ]", default="", help="the logger's nominal rates")
    command.add_argument("--stamps", choices=STAMPS,
                         help="what the time stamps are: one per sample, read-out times of a buffer, or to be ignored")
    command.add_argument("--columns", metavar="TIME,X,Y,Z", default="",
                         help="columns by name or by number from 1; without TIME as X,Y,Z")
    command.add_argument("--split", metavar="KEY=COLUMN", action="append", default=[],
                         help="a column whose values part a file into recordings, such as node=sensor_id; may be given "
                         "again")
    command.add_argument("--rows", metavar="COLUMN=VALUE", default="",
                         help="of a file with a row for each quantity: which value of which column is acceleration")
    command.add_argument("--name", metavar="ID=NAME", action="append", default=[],
                         help="what the node with this ID is called; may be given again")
    command.add_argument("--one-recording", action="store_true",
                         help="all rows of a file are one recording, whatever columns that name a sensor hold")
    command.add_argument("--falls", metavar="[FIELD=]NAME[,NAME]", default="",
                         help="the activities that are falls, * for any letters: a recording of another is one event; "
                         "with FIELD that part of the file's name says so, such as kind=Fall")
    command.add_argument("--whole-recordings", action="store_true",
                         help="a recording of a fall without times is that fall from end to end; the score says so")
    command.add_argument("--keep-same", action="store_true",
                         help="also read files with the same content as another recording, which count twice")


def run(options: argparse.Namespace) -> int:
    recipe = with_options(read_recipe(options.recipe) if options.recipe is not None else Recipe(), options.unit or "",
                          options.time_unit or "", rates_named(options.rate), options.columns, options.stamps or "",
                          options.split, options.one_recording, options.falls, options.whole_recordings,
                          options.rows, options.name)
    with alone(options.study):
        told, study, written = _read(options, recipe)
    if options.json:
        print_json(plain(told) | {"sealed": sealed_set.plain(study)})
    else:
        _print(told, f"saved in {options.study}" if written else f"{options.study} was not written")
        if study.sealed:
            print(sealed_set.sentence(study))
    if told.cancelled:
        complain(f"Stopped: {plural(len(told.read), 'recording was', 'recordings were')} read and saved, the other "
                 "files were not.")
        return INTERRUPTED
    return DONE if written else WRONG_INPUT


def _read(options: argparse.Namespace, recipe: Recipe) -> tuple[Batch, Study, bool]:
    """What was read, as far as it may be told, the study, and whether it was written: only where anything was read."""
    session = Session.opened(options.study) if options.study.exists() else Session()
    if sealed_set.whole(session.study).items and recipe.front_end is None:  # the study's own counts
        recipe = replace(recipe, front_end=plain_front_end(session.study.front_end))
    sources.started_by(session.study, recipe)  # refused before anything is read
    shown = progress("reading")
    with until_interrupted() as interrupted:
        batch = sources.read(options.sources, recipe, options.labels, shown, interrupted)
    if batch.cancelled and not batch.read:
        raise KeyboardInterrupt
    told = session.take_batch(batch, recipe, options.keep_same)
    repeats = sum(file.problem.kind in REPEATS for file in told.refused)
    written = len(batch.read) > repeats
    if written:
        session.save(options.study)
    return told, session.study, written


def plain(batch: Batch) -> dict[str, object]:
    return {"files": [_plain_file(file) for file in batch.files],
            "labels": [_plain_problem(problem) | {"file": problem.file} for problem in batch.label_problems],
            "warnings": [{"kind": remark.kind, "sentence": remark.sentence} for remark in batch.remarks]}


def _plain_file(file: ReadRecording | Refused) -> dict[str, object]:
    if isinstance(file, Refused):
        return {"file": file.source.name, "status": "refused", "error": _plain_problem(file.problem)}
    one = file.recording
    return {"file": file.source.name, "recording": one.name, "status": "read", "samples": len(one),
            "rate_hz": one.rate_hz, "fitted_rate_hz": one.fitted_rate_hz, "rate_known": one.rate_known,
            "duration_s": one.duration_s, "unit": file.recipe.units.acceleration, "gaps": one.gaps,
            "clipped": one.clipped, "labels": len(file.labels),
            "warnings": [{"kind": remark.kind, "sentence": remark.advice(OPTIONS)} for remark in one.remarks]}


def _plain_problem(problem: Problem) -> dict[str, object]:
    return {"kind": problem.kind, "line": problem.line, "column": problem.column, "value": problem.value,
            "message": problem.message, "remedy": problem.advice(OPTIONS)}


def _print(batch: Batch, outcome: str) -> None:
    rows = [(one.name, str(len(one)), f"{one.rate_hz:g}", f"{one.duration_s:.1f}", str(one.gaps), str(one.clipped),
             str(len(file.labels)), ", ".join(remark.kind for remark in one.remarks))
            for file in batch.read for one in (file.recording,)]
    print_table(("recording", "samples", "Hz", "s", "gaps", "clipped", "labels", "warnings"), rows, (1, 2, 3, 4, 5, 6))
    for remark in batch.remarks:
        print(remark.sentence)
    for some in alike(sources.problems_of(batch)):
        for sentence in some.sentences(OPTIONS):
            complain(sentence)
    print(f"{len(batch.read)} read, {len(batch.refused)} refused, {len(batch.label_problems)} label problems; "
          f"{outcome}")
