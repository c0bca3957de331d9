"""`plumbfall read SOURCE… --study FILE`: import recordings; a line for each file, nothing refused in silence."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from app.commands.output import DONE, WRONG_INPUT, complain, print_json, print_table
from app.study import importing, sealing
from app.study.filing import plain_front_end
from app.study.lease import require
from app.study.session import Session
from app.study.state import Study
from data.batch import Batch, Read, Refused
from data.options import rates_named, with_options
from data.problem import Problem
from data.recipe import ACCELERATION_UNITS, STAMPS, TIME_UNITS, Recipe, read_recipe


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("read", help="import recordings into a study")
    command.add_argument("sources", metavar="SOURCE", nargs="+", type=Path, help="files and folders")
    command.add_argument("--study", metavar="FILE", type=Path, required=True,
                         help="the study to write; recordings are added to one that is there")
    command.add_argument("--recipe", metavar="FILE", type=Path, help="what the files are like, as TOML")
    command.add_argument("--labels", metavar="FILE", type=Path, action="append", default=[],
                         help="a table of what happened when; may be given again")
    command.add_argument("--unit", choices=ACCELERATION_UNITS, help="unit of acceleration")
    command.add_argument("--time-unit", choices=TIME_UNITS, help="unit of the time column")
    command.add_argument("--rate", metavar="HZ[,HZ]", default="", help="the logger's nominal rates")
    command.add_argument("--stamps", choices=STAMPS,
                         help="what the times are worth: of each sample, of a buffer's read-outs, or of nothing")
    command.add_argument("--columns", metavar="TIME,X,Y,Z", default="",
                         help="columns by name or by number from 1; without TIME as X,Y,Z")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    recipe = _recipe(options)
    lease = require(options.study)
    try:
        batch, told, study = _read(options, recipe)
    finally:
        lease.release()
    if options.json:
        print_json(plain(told) | {"sealed": sealing.plain(study)})
    else:
        _print(told, options.study)
        if study.sealed:
            print(sealing.sentence(study))
    return DONE if batch.read else WRONG_INPUT


def _read(options: argparse.Namespace, recipe: Recipe) -> tuple[Batch, Batch, Study]:
    """All that was read, what of it may be told, and the study."""
    session = Session.opened(options.study) if options.study.exists() else Session()
    if sealing.whole(session.study).items and recipe.front_end is None:  # counts are those of the study's own front end
        recipe = replace(recipe, front_end=plain_front_end(session.study.front_end))
    batch = importing.read(options.sources, recipe, options.labels)
    told = session.take_batch(batch, recipe)
    session.save(options.study)
    return batch, told, session.study


def _recipe(options: argparse.Namespace) -> Recipe:
    """The recipe of the file, what the options say on top."""
    recipe = read_recipe(options.recipe) if options.recipe is not None else Recipe()
    return with_options(recipe, options.unit or "", options.time_unit or "", rates_named(options.rate),
                        options.columns, options.stamps or "")


def plain(batch: Batch) -> dict[str, object]:
    return {"files": [_plain_read(file) if isinstance(file, Read) else _plain_refused(file) for file in batch.files],
            "labels": [_plain_problem(problem) | {"file": problem.file} for problem in batch.label_problems],
            "warnings": [{"kind": remark.kind, "sentence": remark.sentence} for remark in batch.remarks]}


def _plain_read(file: Read) -> dict[str, object]:
    one = file.recording
    return {"file": file.source.name, "recording": one.name, "status": "read", "samples": len(one),
            "rate_hz": one.rate_hz, "fitted_rate_hz": one.fitted_rate_hz, "rate_known": one.rate_known,
            "duration_s": one.duration_s, "unit": file.recipe.units.acceleration, "gaps": one.gaps,
            "clipped": one.clipped, "labels": len(file.labels),
            "warnings": [{"kind": remark.kind, "sentence": remark.sentence} for remark in one.remarks]}


def _plain_refused(file: Refused) -> dict[str, object]:
    return {"file": file.source.name, "status": "refused", "error": _plain_problem(file.problem)}


def _plain_problem(problem: Problem) -> dict[str, object]:
    return {"kind": problem.kind, "line": problem.line, "column": problem.column, "value": problem.value,
            "message": problem.message, "remedy": problem.remedy}


def _print(batch: Batch, study: Path) -> None:
    rows = [(one.name, str(len(one)), f"{one.rate_hz:g}", f"{one.duration_s:.1f}", str(one.gaps), str(one.clipped),
             str(len(file.labels)), ", ".join(remark.kind for remark in one.remarks))
            for file in batch.read for one in (file.recording,)]
    print_table(("recording", "samples", "Hz", "s", "gaps", "clipped", "labels", "noticed"), rows, (1, 2, 3, 4, 5, 6))
    for remark in batch.remarks:
        print(remark.sentence)
    for problem in importing.problems_of(batch):
        complain(problem.sentence())
    print(f"{len(batch.read)} read, {len(batch.refused)} refused, {len(batch.label_problems)} doubts about labels; "
          f"saved in {study}")
