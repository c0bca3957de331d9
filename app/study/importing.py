"""What people drop or name: which of it is recordings, which labels, a recipe, a study or a header."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from pathlib import Path

from app.study.filing import full_front_end
from app.study.loading import own_shelf
from app.study.state import Item, Study
from app.study.workers import workers_for
from data.batch import Batch, Read, Refused, read_sources
from data.corrections import Shift
from data.labels import EVENTS
from data.problem import Problem
from data.recipe import Recipe, read_recipe
from data.recording import Recording
from detect.firmware.read_header import looks_like_header

HEAD_BYTES = 4096


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
    """What each path is, by its content's beginning. `known`: a recipe in hand, which tells label tables apart."""
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
        with path.open("rb") as file:
            return file.read(HEAD_BYTES).decode("utf-8-sig", errors="replace")
    except OSError:
        return ""  # the reader says what is wrong with it


def _names(head: str, columns: Sequence[str]) -> bool:
    """Whether the first line is a header with these columns."""
    first = head.splitlines()[0] if head else ""
    cells = {cell.strip().strip('"') for cell in first.replace("\t", ",").replace(";", ",").split(",")}
    return set(columns) <= cells


def read(paths: Sequence[Path], recipe: Recipe, tables: Sequence[Path] = (),
         progress: Callable[[float], None] | None = None, cancelled: Callable[[], bool] | None = None) -> Batch:
    """Read recordings and label tables; every file is read or refused with its reason."""
    def told(done: int, total: int) -> None:
        if progress is not None and total:
            progress(done / total)

    stop = cancelled or (lambda: False)
    try:
        with workers_for(paths) as executor:
            batch = read_sources(paths, recipe, tables, told, stop, executor)
    except BrokenProcessPool:  # the system ended a worker: one after the other needs less of everything
        batch = read_sources(paths, recipe, tables, told, stop)
    shelf = own_shelf()
    for file in batch.read:
        shelf.put(file.recording, file.recipe)
    return batch


def seen_from(batch: Batch, base: Path) -> Batch:
    """The batch with its names from a folder on, as if the folder had been dropped rather than the files in it."""
    files: list[Read | Refused] = []
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
        if isinstance(file, Read):
            one = file.recording
            recordings[one.name] = one
            shift = Shift(file.recipe.labels.offset_s, file.recipe.labels.drift_ppm)
            items.append(Item(one.name, file.source.path, one.sha256, one.about, file.labels, recipe=file.recipe,
                              more=file.source.more, group=one.group, clock=shift))
        elif isinstance(file, Refused):
            items.append(Item(file.source.name, file.source.path, about=file.source.about, more=file.source.more,
                              refused=file.problem.sentence()))
    return items, recordings


def started_by(study: Study, recipe: Recipe) -> Study:
    """A study without recordings takes the front end of the recipe that fills it."""
    if study.items or study.under_seal or recipe.front_end is None:
        return study
    return replace(study, front_end=full_front_end(recipe.front_end))


def problems_of(batch: Batch) -> list[Problem]:
    """Everything that went wrong, files first."""
    return [file.problem for file in batch.refused] + list(batch.label_problems)
