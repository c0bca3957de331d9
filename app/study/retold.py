"""Labels from tables for recordings that the study already has."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from app.study import actions, sealing, untold
from app.study.state import Study
from data.labels import EVENTS, Row, assign, read_label_table
from data.problem import Problem, from_os_error
from data.recipe import LabelTable, Recipe
from data.recording import Recording


def label_again(study: Study, library: Mapping[str, Recording], tables: Sequence[Path], recipe: Recipe) \
        -> tuple[Study, list[Problem]]:
    """The study with the tables' labels in place of its own, for every recording that they name.

    Rows that name no recording, or one twice, come back as problems; so does a table that is none.
    """
    rows: list[Row] = []
    problems: list[Problem] = []
    for table in tables:
        try:
            some, faults = _rows(table, recipe.labels)
        except Problem as problem:
            problems.append(problem)
            continue
        rows += some
        problems += faults
    recordings = [library[item.name] for item in sealing.whole(study).items if item.name in library]
    labels, doubts = assign(rows, recordings, recipe.labels)
    for name, some_labels in labels.items():
        study = actions.set_labels(study, name, some_labels)
    return study, untold.unnamed(study, problems + doubts)


def _rows(table: Path, spec: LabelTable) -> tuple[list[Row], list[Problem]]:
    try:
        raw = table.read_bytes()
    except OSError as error:
        raise from_os_error(error, table.name, "read") from error
    first = raw.split(b"\n", 1)[0].decode("utf-8", errors="replace")
    if spec.onset and spec.onset in first and spec.key in first:
        return read_label_table(raw, table.name, spec)
    own = table.name.removesuffix("_events.tsv") if EVENTS.key not in first else ""
    return read_label_table(raw, table.name, replace(spec, onset="", key=""), own)
