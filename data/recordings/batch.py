"""Many files and folders at once: every one is read or refused with its reason, and none stops the others."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass, replace
from pathlib import Path

from data.files import content_of
from data.labels.table import LabelRow, assign, read_label_table
from data.problem import Problem, counted, from_os_error
from data.recipe.recipe import Recipe
from data.recordings.cache import Shelf
from data.recordings.model import Label, Recording, Remark
from data.recordings.reading import part_in_words, read_recordings
from data.recordings.sources import EVENTS_SUFFIX, SourceFile, find_sources

_CHUNK = 8


@dataclass(frozen=True, eq=False)
class ReadRecording:
    """A file, or one of those in a file, that became a recording. `recipe` is complete: with it the file reads the same
    again.
    """

    source: SourceFile
    recording: Recording
    recipe: Recipe
    labels: tuple[Label, ...] = ()


@dataclass(frozen=True, eq=False)
class Refused:
    """A file that didn't, and why."""

    source: SourceFile
    problem: Problem


@dataclass(frozen=True, eq=False)
class Batch:
    """What came of it all. `label_problems`: rows of label tables that were not taken, or only with a doubt."""

    files: tuple[ReadRecording | Refused, ...]
    label_problems: tuple[Problem, ...] = ()
    remarks: tuple[Remark, ...] = ()
    cancelled: bool = False

    @property
    def read(self) -> tuple[ReadRecording, ...]:
        return tuple(file for file in self.files if isinstance(file, ReadRecording))

    @property
    def refused(self) -> tuple[Refused, ...]:
        return tuple(file for file in self.files if isinstance(file, Refused))


def _nobody(done: int, total: int) -> None:
    pass


def _never() -> bool:
    return False


def read_sources(
    paths: Sequence[Path],
    recipe: Recipe,
    label_tables: Sequence[Path] = (),
    progress: Callable[[int, int], None] = _nobody,
    cancelled: Callable[[], bool] = _never,
    executor: Executor | None = None,
    shelf: Shelf | None = None,
) -> Batch:
    """Read files and folders, and give the recordings their labels.

    A folder is the base of the pattern and of the names of what is in it. Tables named *_events.tsv beside the
    recordings are labels too. `progress` is told files done and in all; `cancelled` is asked between files: what was
    read until then is in the batch. `shelf`: where what was read is kept.
    """
    found = find_sources(paths, recipe, label_tables)
    files, stopped = _read_all(found.sources, recipe, progress, cancelled, executor, shelf)
    files = _with_own_names(files)
    reads = [file for file in files if isinstance(file, ReadRecording)]
    named = {table: table.name.removesuffix(EVENTS_SUFFIX) for table in label_tables}
    labels, problems = _labels({**found.tables, **named}, reads, recipe)
    done = [replace(file, labels=labels.get(file.recording.name, ())) if isinstance(file, ReadRecording) else file
            for file in files]
    missing = [Refused(source, problem) for source, problem in found.missing]
    return Batch(
        files=(*done, *missing),
        label_problems=tuple(problems),
        remarks=(*found.remarks, *_rates(reads), *_same(reads)),
        cancelled=stopped,
    )


def _read_all(
    sources: list[SourceFile],
    recipe: Recipe,
    progress: Callable[[int, int], None],
    cancelled: Callable[[], bool],
    executor: Executor | None,
    shelf: Shelf | None,
) -> tuple[list[ReadRecording | Refused], bool]:
    """The files read so far when all are, or when it was cancelled; and whether it was."""
    files: list[ReadRecording | Refused] = []
    chunks = [sources[i : i + _CHUNK] for i in range(0, len(sources), _CHUNK)]
    waiting: list[Future[list[ReadRecording | Refused]]] = []
    if executor is not None:
        waiting = [executor.submit(read_some, chunk, recipe, shelf) for chunk in chunks]
    progress(0, len(sources))
    done = 0
    for i, chunk in enumerate(chunks):
        if cancelled():
            for future in waiting[i:]:
                future.cancel()
            return files, True
        if executor is not None:
            files += waiting[i].result()
        else:
            for source in chunk:
                if cancelled():
                    return files, True
                files += read_some([source], recipe, shelf)
        done += len(chunk)
        progress(done, len(sources))
    return files, False


def read_some(sources: list[SourceFile], recipe: Recipe, shelf: Shelf | None = None) -> list[ReadRecording | Refused]:
    """Several files, one after the other: what a worker process is given."""
    found = [file for source in sources for file in read_source(source, recipe)]
    for file in found:
        if shelf is not None and isinstance(file, ReadRecording):
            shelf.put(file.recording, file.recipe)
    return found


def read_source(source: SourceFile, recipe: Recipe) -> list[ReadRecording | Refused]:
    """One file, or one recording's files: everything in them, read or refused."""
    try:
        names = [os.path.basename(path) for path in source.paths]
        pieces = read_recordings(source.bytes(), source.name, recipe, source.about, names if source.more else ())
    except Problem as problem:
        return [Refused(source, problem.at(source.name))]
    files: list[ReadRecording | Refused] = []
    for piece in pieces:
        if isinstance(piece.outcome, Problem):
            part = f"{source.name}:{part_in_words(piece.part)}" if piece.part else source.name
            mine = replace(source, name=part, about=piece.about)
            files.append(Refused(mine, piece.outcome.at(part)))
        else:
            recording, full = piece.outcome
            files.append(ReadRecording(source, replace(recording, group=recording.group or source.group), full))
    return files


def _with_own_names(files: list[ReadRecording | Refused]) -> list[ReadRecording | Refused]:
    """Recordings named by their file without its suffix, where that is still a name of their own."""
    short = {id(file): _short(file) for file in files if isinstance(file, ReadRecording)}
    often = Counter(short.values())
    named: list[ReadRecording | Refused] = []
    taken: set[str] = set()
    for file in files:
        if isinstance(file, Refused):
            named.append(file)
            continue
        name, part = short[id(file)], _part(file)
        chosen = name if often[name] == 1 else file.source.name + part
        if chosen in taken:  # the same name in two folders that were dropped together
            chosen = Path(file.source.path).as_posix() + part
        taken.add(chosen)
        named.append(replace(file, recording=replace(file.recording, name=chosen)))
    return named


def _part(file: ReadRecording) -> str:
    return f":{part_in_words(file.recipe.part)}" if file.recipe.part else ""


def _short(file: ReadRecording) -> str:
    return os.path.splitext(file.source.name)[0] + _part(file)


def _labels(
    tables: dict[Path, str], reads: list[ReadRecording], recipe: Recipe
) -> tuple[dict[str, tuple[Label, ...]], list[Problem]]:
    rows: list[LabelRow] = []
    problems: list[Problem] = []
    for table, about in tables.items():
        try:
            some, faults = _rows(table, about, recipe)
        except Problem as problem:
            problems.append(problem)
            continue
        rows += some
        problems += faults
    labels, doubts = assign(rows, [read.recording for read in reads], recipe.labels)
    return labels, problems + doubts


def _rows(table: Path, about: str, recipe: Recipe) -> tuple[list[LabelRow], list[Problem]]:
    try:
        raw = content_of(table)
    except OSError as error:
        raise from_os_error(error, table.name, "read") from error
    if table.name.endswith(EVENTS_SUFFIX):
        spec = replace(recipe.labels, onset="", key="")
        central = b"recording" in raw.split(b"\n", 1)[0]
        return read_label_table(raw, table.name, spec, "" if central else about)
    return read_label_table(raw, table.name, recipe.labels)


def _rates(reads: list[ReadRecording]) -> list[Remark]:
    """A word where not all recordings have one rate: whatever depends on it then tells loggers apart."""
    rates = Counter(round(read.recording.rate_hz, 2) for read in reads if read.recording.rate_known)
    if len(rates) < 2:
        return []
    said = ", ".join(f"{count} at {rate:g} Hz" for rate, count in rates.most_common(5))
    return [Remark("rates", f"The recordings are not all at one rate: {said}.")]


def _same(reads: list[ReadRecording]) -> list[Remark]:
    """A word on files with the same content: they would count twice."""
    first: dict[str, str] = {}
    twice = []
    for read in reads:
        part = part_in_words(read.recipe.part)
        other = first.setdefault(read.recording.sha256 + part, read.recording.name)
        if other != read.recording.name:
            twice.append(f"{read.recording.name} and {other}")
    if not twice:
        return []
    some = "; ".join(twice[:3]) + ("; …" if len(twice) > 3 else "")
    return [Remark("same", f"{counted(len(twice), 'file has', 'files have')} the same content as another, and would "
                           f"count twice: {some}.")]
