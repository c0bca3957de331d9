"""What people drop or name: which of it is recordings, which labels, a recipe, a study or a header; and what imports
were told last, by the header of the files: offered, never taken unasked.

What is in the study already is told: the same content under another name would count twice, another of the same name
would take the first one's place.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Protocol

from app.study.actions import set_front_end
from app.study.pipeline import Cancelled
from app.study.recordings.samples import own_shelf
from app.study.sealed import sealed_set
from app.study.state import Item, Study
from app.study.storage.study_files import full_front_end
from app.study.workers import workers_for
from data.files import opened, write_atomically
from data.formats.text_layout import Layout
from data.labels.table import EVENTS
from data.problem import Problem
from data.recipe.recipe import Recipe, read_recipe, recipe_to_toml
from data.recordings.batch import Batch, ReadRecording, Refused, read_sources
from data.recordings.model import Recording, Shift
from detect.firmware.header.reader import looks_like_header
from detect.rule.settings import BadSetting

SAME, TAKEN = REPEATS = ("same_content", "name_taken")
"""Kinds of problems of files that are not listed in the study though they were refused: something of theirs is."""


_Content = tuple[str, tuple[tuple[str, str], ...]]
"""A file's fingerprint, and which of its recordings."""


@dataclass(frozen=True)
class _Known:
    name: str
    sealed: bool


def without_repeats(study: Study, batch: Batch, keep_same: bool) -> Batch:
    """The batch with what is in the study, or earlier in the batch, already refused. `keep_same`: the same content
    under another name is wanted."""
    sealed = {item.name for item in study.under_seal}
    items = {item.name: item for item in sealed_set.whole(study).items if not item.refused}
    known = {(item.sha256, item.recipe.part): _Known(item.name, item.name in sealed)
             for item in items.values() if item.sha256}
    files: list[ReadRecording | Refused] = []
    for file in batch.files:
        problem = None
        if isinstance(file, ReadRecording):
            problem = _repeat(file, items, known, keep_same)
            if problem is None:
                one = file.recording
                known.setdefault((one.sha256, file.recipe.part), _Known(one.name, False))
        files.append(file if problem is None else Refused(file.source, problem))
    said = batch.remarks if keep_same else tuple(one for one in batch.remarks if one.kind != "same")  # refused instead
    return replace(batch, files=tuple(files), remarks=said)


def same_content(study: Study, batch: Batch) -> list[Problem]:
    """What of a batch would count twice, which a person may want all the same."""
    return [file.problem for file in without_repeats(study, batch, False).refused if file.problem.kind == SAME]


def _repeat(file: ReadRecording, items: dict[str, Item], known: dict[_Content, _Known],
            keep_same: bool) -> Problem | None:
    one, there = file.recording, items.get(file.recording.name)
    if there is not None and there.path != file.source.path and there.sha256 != one.sha256:
        return Problem(TAKEN, f'The study has another recording named "{one.name}", of {there.path}.',
                       "Rename this file, or read both from a folder above them, so that each has a name of its own.",
                       file=file.source.name, value=one.name)
    other = known.get((one.sha256, file.recipe.part))
    if keep_same or other is None or other.name == one.name:
        return None
    named = "a recording of the study" if other.sealed else f'"{other.name}"'
    return Problem(SAME, f"It has the same content as {named}, and would count twice.",
                   "Leave it out, or read it all the same.", file=file.source.name, field="same", value=one.name)


HEAD_BYTES = 4096


class FileProgress(Protocol):
    def __call__(self, share: float, said: str = "", /) -> None:
        """Share done, 0 to 1, and how many files of how many, in words."""


@dataclass(frozen=True)
class Named:
    """Paths sorted by what they are. `recordings` may be folders."""

    recordings: tuple[Path, ...] = ()
    tables: tuple[Path, ...] = ()
    recipe: Path | None = None
    study: Path | None = None
    settings: Path | None = None
    """A header or a settings file."""


def sorted_out(paths: Sequence[Path], known: Recipe | None = None) -> Named:
    """What each path is, by its content's beginning. `known`: the current recipe, which tells label tables apart."""
    recordings, tables, recipe, study, settings = [], [], None, None, None
    heads = {path: _head(path) for path in paths}
    recipe = next((path for path in paths if path.suffix.lower() == ".toml"), None)
    labels = (read_recipe(recipe) if recipe is not None else known or Recipe()).labels
    for path in paths:
        head = heads[path]
        if path == recipe:
            continue
        if '"plumbfall_study"' in head:
            study = path
        elif looks_like_header(head) or (head.lstrip().startswith("{") and '"settings"' in head):
            settings = path
        elif path.name.endswith("_events.tsv") or _names(head, (EVENTS.onset, EVENTS.name)) \
                or (labels.key and _names(head, (labels.key, labels.onset))):
            tables.append(path)
        else:
            recordings.append(path)
    return Named(tuple(recordings), tuple(tables), recipe, study, settings)


def _head(path: Path) -> str:
    if path.is_dir():
        return ""
    try:
        with opened(path) as file:
            return file.read(HEAD_BYTES).decode("utf-8-sig", errors="replace")
    except OSError:
        return ""  # the reader says what is wrong with it


def _names(head: str, columns: Sequence[str]) -> bool:
    """Whether the first line is a header with these columns."""
    first = head.splitlines()[0] if head else ""
    cells = {cell.strip().strip('"') for cell in first.replace("\t", ",").replace(";", ",").split(",")}
    return set(columns) <= cells


def read(paths: Sequence[Path], recipe: Recipe, tables: Sequence[Path] = (),
         progress: FileProgress | None = None, cancelled: Cancelled | None = None) -> Batch:
    """Read recordings and label tables; every file is read or refused with its reason. Cancelled, what was read until
    then is in the batch, and the rest is neither."""
    def told(done: int, total: int) -> None:
        if progress is not None and total:
            progress(done / total, f"{done} of {total} files")

    stop = cancelled or (lambda: False)
    try:
        with workers_for(paths) as executor:
            batch = read_sources(paths, recipe, tables, told, stop, executor, own_shelf())
    except BrokenProcessPool:  # the system ended a worker: one after the other needs less of everything
        batch = read_sources(paths, recipe, tables, told, stop, shelf=own_shelf())
    return batch


def seen_from(batch: Batch, base: Path) -> Batch:
    """The batch with its names from a folder on, as if the folder had been dropped rather than the files in it."""
    files: list[ReadRecording | Refused] = []
    for file in batch.files:
        name = Path(os.path.relpath(file.source.path, base)).as_posix()
        source = replace(file.source, name=name)
        if isinstance(file, Refused):
            files.append(Refused(source, file.problem))
            continue
        part = file.recording.name.partition(":")[2]
        recording = replace(file.recording, name=os.path.splitext(name)[0] + (f":{part}" if part else ""))
        files.append(replace(file, source=source, recording=recording))
    return replace(batch, files=tuple(files))


def items_of(batch: Batch) -> tuple[list[Item], dict[str, Recording]]:
    """A batch as items of a study, broken files among them, and the samples of those that were read."""
    items, recordings = [], {}
    for file in batch.files:
        if isinstance(file, ReadRecording):
            one = file.recording
            recordings[one.name] = one
            shift = Shift(file.recipe.labels.offset_s, file.recipe.labels.drift_ppm)
            items.append(Item(one.name, file.source.path, one.sha256, one.about, file.labels, recipe=file.recipe,
                              more=file.source.more, group=one.group, clock=shift))
        elif file.problem.kind not in REPEATS:
            items.append(Item(file.source.name, file.source.path, about=file.source.about, more=file.source.more,
                              refused=file.problem.sentence()))
    return items, recordings


def started_by(study: Study, recipe: Recipe) -> Study:
    """A study without recordings, but for such as were refused, takes the front end of the recipe that fills it. Raises
    Problem where the rule has no integers for its settings there: nothing is to be saved that can't be opened."""
    if not all(item.refused for item in study.items) or study.under_seal or recipe.front_end is None:
        return study
    try:
        return set_front_end(study, full_front_end(recipe.front_end))
    except BadSetting as refused:
        raise Problem("setting", f"With [front_end] of the recipe, {refused}", "Correct [front_end].",
                      column=refused.key, value=str(refused.value)) from refused


def problems_of(batch: Batch) -> list[Problem]:
    """Everything that went wrong, files first."""
    return [file.problem for file in batch.refused] + list(batch.label_problems)


@dataclass(frozen=True)
class RecipeMemory:
    recipe: Recipe
    when: datetime


class Remembered:
    """A folder of recipes, one a kind of file."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def get(self, layout: Layout) -> RecipeMemory | None:
        """What files of this layout were told last; None where nothing was, or it can't be read any more."""
        path = self._path(layout)
        try:
            return RecipeMemory(read_recipe(path), datetime.fromtimestamp(path.stat().st_mtime))
        except (OSError, Problem):
            return None

    def put(self, layout: Layout, recipe: Recipe) -> None:
        """Remember it, if the place allows: an import is not lost for want of it."""
        head = ", ".join(layout.names) if layout.names else f"{layout.columns} columns without a header"
        text = f"# {' '.join(head.split())}\n{recipe_to_toml(recipe)}"
        with suppress(OSError, Problem):
            self._folder.mkdir(parents=True, exist_ok=True)
            write_atomically(self._path(layout), text)

    def _path(self, layout: Layout) -> Path:
        told = json.dumps([layout.delimiter, list(layout.names) or layout.columns, list(layout.units_row)])
        return self._folder / f"{hashlib.sha256(told.encode()).hexdigest()[:24]}.toml"
