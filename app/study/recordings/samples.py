"""The samples of a study's recordings, read again from their files."""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TypeVar

from app.study.pipeline import Cancelled, Progress
from app.study.recordings.kept_counts import cache_folder
from app.study.recordings.trim import trimmed
from app.study.state import Item
from data.files import content_of, opened
from data.problem import Problem, os_refusals
from data.recipe.recipe import Recipe
from data.recordings.cache import Shelf
from data.recordings.model import Recording
from data.recordings.reading import fingerprint, read_recordings
from detect.workers import Stopped

_CHUNK = 16

Found = TypeVar("Found")


@dataclass(frozen=True, eq=False)
class Loaded:
    """One recording's samples, or why there are none: `item` has its `refused` set then."""

    item: Item
    recording: Recording | None


def own_shelf() -> Shelf:
    """The shelf in the user's own cache."""
    return Shelf(cache_folder())


def _kept(item: Item, sha256: str | Problem, shelf: Shelf, later: bool) -> Loaded | None:
    """What the shelf has of it, or refused where instead of a fingerprint there is a reason why; `later`: the samples
    only when they are asked for, which may raise Problem then."""
    if isinstance(sha256, Problem):
        return _refused(item, sha256)
    recipe = _recipe(item)
    anew = (lambda: _only(_bytes(item), item, recipe).samples) if later else None
    recording = shelf.get(sha256, recipe, item.name, item.about, anew)
    return None if recording is None else _checked(item, recording)


def _read(item: Item, shelf: Shelf) -> Loaded:
    try:
        recipe = _recipe(item)
        recording = replace(_only(_bytes(item), item, recipe), name=item.name, group=item.group)
    except Problem as problem:
        return _refused(item, problem)
    shelf.put(recording, recipe)
    return _checked(item, recording)


def _recipe(item: Item) -> Recipe:
    if item.rate_hz is None:
        return item.recipe
    return replace(item.recipe, clock=replace(item.recipe.clock, rates_hz=(item.rate_hz,)))


def _checked(item: Item, recording: Recording) -> Loaded:
    try:
        trimmed(recording, item.trim)
    except Problem as problem:
        return _refused(item, problem)
    return Loaded(replace(item, refused="", sha256=recording.sha256), recording)


def _refused(item: Item, problem: Problem) -> Loaded:
    return Loaded(replace(item, refused=problem.at(Path(item.path).name).sentence()), None)


def _only(raws: list[bytes], item: Item, recipe: Recipe) -> Recording:
    """The one recording that the item's complete recipe picks from its files."""
    files = [Path(path).name for path in (item.path, *item.more)]
    (piece, *others) = read_recordings(raws, item.name, recipe, item.about, files)
    if isinstance(piece.outcome, Problem):
        raise piece.outcome
    if others:
        raise Problem("several", f"The file holds {len(others) + 1} recordings now.", "Open the file again.")
    return piece.outcome[0]


def _fingerprint(item: Item) -> str | Problem:
    """Of its files as they are now, or why there is none: they are not those that the study was saved with. Nothing of
    them is kept: what is on the shelf needs no more."""
    digest = hashlib.sha256()
    try:
        for path in (item.path, *item.more):
            with os_refusals(path, "read"), opened(path) as file:
                hashlib.file_digest(file, lambda: digest)
        return _unchanged(digest.hexdigest(), item)
    except Problem as problem:
        return problem


def _bytes(item: Item) -> list[bytes]:
    raws = []
    for path in (item.path, *item.more):
        with os_refusals(path, "read"):
            raws.append(content_of(path))
    _unchanged(fingerprint(raws), item)
    return raws


def _unchanged(sha256: str, item: Item) -> str:
    if item.sha256 and sha256 != item.sha256:
        raise Problem("changed", "The file has changed since the study was saved (its SHA-256 differs).",
                      "Restore the old file, or remove this recording and open the file again.", file=item.path)
    return sha256


def load_all(items: Iterable[Item], progress: Progress | None = None,
             cancelled: Cancelled | None = None) -> list[Loaded]:
    """Every item read, or taken from the shelf, in order; Stopped where cancelled. A file that is not the one the study
    was saved with is refused: labels never slide onto another. For a command, samples come when they are asked for.

    Fingerprints come first: they let other threads run nearly all the time. What is on the shelf comes in this thread:
    it hardly does, and beside another would wait for it file by file.
    """
    wanted, shelf = list(items), own_shelf()
    command = threading.get_ident() == threading.main_thread().ident

    def told(first: float, last: float, found: Iterable[Found]) -> Iterator[Found]:
        """One after the other, which takes the progress from one share to the other."""
        for number, one in enumerate(found):
            if number % _CHUNK == 0:
                if cancelled is not None and cancelled():
                    raise Stopped
                if progress is not None:
                    progress(first + (last - first) * number / len(wanted))
            yield one

    with _threads() as threads:
        prints = list(told(0, 0.4, _each(_fingerprint, wanted, threads)))
        pairs = zip(wanted, prints, strict=True)
        found = [_kept(item, sha256, shelf, command) for item, sha256 in told(0.4, 0.5, pairs)]
        rest = [item for item, kept in zip(wanted, found, strict=True) if kept is None]
        read = told(0.5, 1.0, _each(partial(_read, shelf=shelf), rest, threads))
        loaded = [kept or next(read) for kept in found]
    if progress is not None and wanted:
        progress(1.0)
    if shelf.grown:
        shelf.tidy()
    return loaded


@contextmanager
def _threads() -> Iterator[ThreadPoolExecutor]:
    """As many as there are cores; what none of them began is dropped at the end."""
    pool = ThreadPoolExecutor(os.cpu_count() or 1)
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


def _each(work: Callable[[Item], Found], items: list[Item], threads: ThreadPoolExecutor) -> Iterator[Found]:
    """What comes of every item, in order; handed to the threads a few at a time, as that takes its time too."""
    chunks = [items[at:at + _CHUNK] for at in range(0, len(items), _CHUNK)]
    return chain.from_iterable(threads.map(lambda some: [work(item) for item in some], chunks))
