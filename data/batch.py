"""Many files and folders at once: every one is read or refused with its reason, and none stops the others."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor, Future
from dataclasses import dataclass, replace
from pathlib import Path

from data.file_names import match
from data.labels import Row, assign, read_label_table
from data.problem import Problem, from_os_error
from data.reading import read_recording
from data.recipe import Recipe
from data.recording import About, Label, Recording, Remark

TABLE_SUFFIXES = (".csv", ".tsv", ".txt", ".dat")
"""Files of a folder that are tried without a pattern that names them."""

EVENTS_SUFFIX = "_events.tsv"
"""Tables with names of this ending are labels of the recording that the rest of the name is of."""

MOST_BYTES = 2 * 1024**3
_CHUNK = 8


@dataclass(frozen=True)
class Source:
    """A file to be read: `name` as people see it, relative to what was dropped; `path` absolute."""

    name: str
    path: str
    about: About


@dataclass(frozen=True, eq=False)
class Read:
    """A file that became a recording. `recipe` is complete: with it the file reads the same again."""

    source: Source
    recording: Recording
    recipe: Recipe
    labels: tuple[Label, ...] = ()


@dataclass(frozen=True, eq=False)
class Refused:
    """A file that didn't, and why."""

    source: Source
    problem: Problem


@dataclass(frozen=True, eq=False)
class Batch:
    """What came of it all. `label_problems`: rows of label tables that were not taken, or only with a doubt."""

    files: tuple[Read | Refused, ...]
    label_problems: tuple[Problem, ...] = ()
    remarks: tuple[Remark, ...] = ()
    cancelled: bool = False

    @property
    def read(self) -> tuple[Read, ...]:
        return tuple(file for file in self.files if isinstance(file, Read))

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
) -> Batch:
    """Read files and folders, and give the recordings their labels.

    A folder is the base of the pattern and of the names of what is in it. Tables named *_events.tsv beside the
    recordings are labels too. `progress` is told files done and in all; `cancelled` is asked between files.
    """
    sources, tables, refused, remarks = find_sources(paths, recipe, label_tables)
    files = _read_all(sources, recipe, progress, cancelled, executor)
    reads = _with_own_names([file for file in files if isinstance(file, Read)])
    named = {table: table.name.removesuffix(EVENTS_SUFFIX) for table in label_tables}
    labels, problems = _labels({**tables, **named}, reads, recipe)
    labelled = {read.source.path: replace(read, labels=labels.get(read.recording.name, ())) for read in reads}
    done = [labelled.get(file.source.path, file) for file in files]
    return Batch(
        files=(*done, *refused),
        label_problems=tuple(problems),
        remarks=(*remarks, *_rates(reads), *_same(reads)),
        cancelled=len(files) < len(sources),
    )


def find_sources(
    paths: Sequence[Path], recipe: Recipe, label_tables: Sequence[Path] = ()
) -> tuple[list[Source], dict[Path, str], list[Refused], list[Remark]]:
    """The recordings among what was named, events tables beside them with the name of what they are about, what
    isn't there, and what was passed over."""
    sources: dict[str, Source] = {}
    tables: dict[Path, str] = {}
    refused: list[Refused] = []
    passed: list[str] = []
    taken = {os.path.abspath(table) for table in label_tables}
    for path in paths:
        in_folder = path.is_dir()
        base = path if in_folder else path.parent
        for file in _walk(path, refused) if in_folder else [path]:
            absolute = os.path.abspath(file)
            name = Path(os.path.relpath(file, base)).as_posix()
            if absolute in taken:
                continue
            if name.endswith(EVENTS_SUFFIX):
                tables[file] = name.removesuffix(EVENTS_SUFFIX)
                continue
            about = _about(name, absolute, recipe)
            if in_folder and (about is None or not (recipe.pattern or file.suffix.lower() in TABLE_SUFFIXES)):
                passed.append(name)
                continue
            # A file that was named by itself is wanted, whatever its name.
            sources.setdefault(absolute, Source(name, absolute, about or recipe.about))
    remarks = _passed_over(passed, recipe)
    return list(sources.values()), tables, refused, remarks


def _walk(folder: Path, refused: list[Refused]) -> Iterable[Path]:
    """Every file in a folder and below, in order of name; hidden ones left out."""

    def note(error: OSError) -> None:
        name = str(error.filename or folder)
        refused.append(Refused(Source(name, os.path.abspath(name), About()), from_os_error(error, name, "read")))

    for here, folders, files in os.walk(folder, onerror=note):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(files):
            if not name.startswith("."):
                yield Path(here) / name


def _about(name: str, absolute: str, recipe: Recipe) -> About | None:
    """What the name says, over what the recipe says of all; None where the pattern doesn't fit."""
    if not recipe.pattern:
        return recipe.about
    parts = match(recipe.pattern, name)
    if parts is None:  # a file dropped by itself, or a folder above the one that the pattern begins in
        tail = Path(absolute).as_posix().split("/")
        tails = ("/".join(tail[i:]) for i in range(len(tail) - 1, 0, -1))
        parts = next((found for t in tails if (found := match(recipe.pattern, t)) is not None), None)
    return None if parts is None else replace(recipe.about, **parts)


def _passed_over(passed: list[str], recipe: Recipe) -> list[Remark]:
    if not passed:
        return []
    why = f'have names that the pattern "{recipe.pattern}" doesn\'t fit' if recipe.pattern else "are no tables of text"
    some = ", ".join(passed[:3]) + (", …" if len(passed) > 3 else "")
    return [Remark("passed_over", f"{len(passed)} files {why} and were not read: {some}.")]


def _read_all(
    sources: list[Source],
    recipe: Recipe,
    progress: Callable[[int, int], None],
    cancelled: Callable[[], bool],
    executor: Executor | None,
) -> list[Read | Refused]:
    """The files read so far when all are, or when it was cancelled."""
    files: list[Read | Refused] = []
    chunks = [sources[i : i + _CHUNK] for i in range(0, len(sources), _CHUNK)]
    waiting: list[Future[list[Read | Refused]]] = []
    if executor is not None:
        waiting = [executor.submit(read_some, chunk, recipe) for chunk in chunks]
    progress(0, len(sources))
    for i, chunk in enumerate(chunks):
        if cancelled():
            for future in waiting[i:]:
                future.cancel()
            break
        if executor is not None:
            files += waiting[i].result()
        else:
            for source in chunk:
                if cancelled():
                    return files
                files.append(read_source(source, recipe))
        progress(len(files), len(sources))
    return files


def read_some(sources: list[Source], recipe: Recipe) -> list[Read | Refused]:
    """Several files, one after the other: what a worker process is given."""
    return [read_source(source, recipe) for source in sources]


def read_source(source: Source, recipe: Recipe) -> Read | Refused:
    """One file, read or refused."""
    try:
        recording, full = read_recording(_bytes(source), source.name, recipe, source.about)
    except Problem as problem:
        return Refused(source, problem.at(source.name))
    return Read(source, recording, full)


def _bytes(source: Source) -> bytes:
    try:
        if os.path.getsize(source.path) > MOST_BYTES:
            raise Problem("too_large", "The file is larger than 2 GB.", "Split it into several recordings.")
        return Path(source.path).read_bytes()
    except OSError as error:
        raise from_os_error(error, source.name, "read") from error


def _with_own_names(reads: list[Read]) -> list[Read]:
    """Recordings named by their file without its suffix, where that is still a name of their own."""
    short = [os.path.splitext(read.source.name)[0] for read in reads]
    often = Counter(short)
    named = []
    taken: set[str] = set()
    for read, name in zip(reads, short, strict=True):
        chosen = name if often[name] == 1 else read.source.name
        if chosen in taken:  # the same name in two folders that were dropped together
            chosen = Path(read.source.path).as_posix()
        taken.add(chosen)
        named.append(replace(read, recording=replace(read.recording, name=chosen)))
    return named


def _labels(
    tables: dict[Path, str], reads: list[Read], recipe: Recipe
) -> tuple[dict[str, tuple[Label, ...]], list[Problem]]:
    rows: list[Row] = []
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


def _rows(table: Path, about: str, recipe: Recipe) -> tuple[list[Row], list[Problem]]:
    try:
        raw = table.read_bytes()
    except OSError as error:
        raise from_os_error(error, table.name, "read") from error
    if table.name.endswith(EVENTS_SUFFIX):
        spec = replace(recipe.labels, onset="", key="")
        central = b"recording" in raw.split(b"\n", 1)[0]
        return read_label_table(raw, table.name, spec, "" if central else about)
    return read_label_table(raw, table.name, recipe.labels)


def _rates(reads: list[Read]) -> list[Remark]:
    """A word where not all recordings have one rate: whatever depends on it then tells loggers apart."""
    rates = Counter(round(read.recording.rate_hz, 2) for read in reads if read.recording.rate_known)
    if len(rates) < 2:
        return []
    said = ", ".join(f"{count} at {rate:g} Hz" for rate, count in rates.most_common(5))
    return [Remark("rates", f"The recordings are not all at one rate: {said}.")]


def _same(reads: list[Read]) -> list[Remark]:
    """A word on files with the same content: they would count twice."""
    first: dict[str, str] = {}
    twice = []
    for read in reads:
        other = first.setdefault(read.recording.sha256, read.recording.name)
        if other != read.recording.name:
            twice.append(f"{read.recording.name} and {other}")
    if not twice:
        return []
    some = "; ".join(twice[:3]) + ("; …" if len(twice) > 3 else "")
    return [Remark("same", f"{len(twice)} files hold what another holds too, and would count twice: {some}.")]
