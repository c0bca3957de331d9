"""The samples of a study's recordings, read again from their files."""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import repeat
from pathlib import Path

from app.study.pipeline import Cancelled, Progress
from app.study.recordings.kept_counts import cache_folder
from app.study.recordings.trim import trimmed
from app.study.state import Item
from data.ordinary_file import content_of, opened
from data.problem import Problem, os_refusals
from data.recipe.recipe import Recipe
from data.recordings.cache import Shelf
from data.recordings.model import Recording
from data.recordings.reading import fingerprint, read_recordings
from detect.workers import Stopped

_CHUNK = 16
"""So many at a time: to hand over each alone takes as long as the work."""


@dataclass(frozen=True, eq=False)
class Loaded:
    """One recording's samples, or why there are none: `item` has its `refused` set then."""

    item: Item
    recording: Recording | None


def own_shelf() -> Shelf:
    """The shelf in the user's own cache."""
    return Shelf(cache_folder())


def load(item: Item, shelf: Shelf, later: bool = False) -> Loaded:
    """Read one item's file, or take what was kept of it; `later`: the samples only when they are asked for, which may
    raise Problem then.

    A file that is not the one the study was saved with is refused: labels never slide onto another file.
    """
    try:
        sha256 = _fingerprint(item)
        recipe = item.recipe if item.rate_hz is None else replace(
            item.recipe, clock=replace(item.recipe.clock, rates_hz=(item.rate_hz,)))
        anew = (lambda: _only(_bytes(item), item, recipe).samples) if later else None
        recording: Recording | None = shelf.get(sha256, recipe, item.name, item.about, anew)
        if recording is None:
            recording = replace(_only(_bytes(item), item, recipe), name=item.name, group=item.group)
            shelf.put(recording, recipe)
        trimmed(recording, item.trim)
    except Problem as problem:
        return Loaded(replace(item, refused=problem.at(Path(item.path).name).sentence()), None)
    return Loaded(replace(item, refused="", sha256=recording.sha256), recording)


def _only(raws: list[bytes], item: Item, recipe: Recipe) -> Recording:
    """The one recording that the item's complete recipe picks from its files."""
    files = [Path(path).name for path in (item.path, *item.more)]
    (piece, *others) = read_recordings(raws, item.name, recipe, item.about, files)
    if isinstance(piece.outcome, Problem):
        raise piece.outcome
    if others:
        raise Problem("several", f"The file holds {len(others) + 1} recordings now.", "Open the file again.")
    return piece.outcome[0]


def _fingerprint(item: Item) -> str:
    """Of its files as they are now; Problem where they are not those that the study was saved with. Nothing of them is
    kept: what is on the shelf needs no more."""
    digest = hashlib.sha256()
    for path in (item.path, *item.more):
        with os_refusals(path, "read"), opened(path) as file:
            hashlib.file_digest(file, lambda: digest)
    return _unchanged(digest.hexdigest(), item)


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


def _load_some(items: list[Item], shelf: Shelf, later: bool) -> list[Loaded]:
    return [load(item, shelf, later) for item in items]


def load_all(items: Iterable[Item], progress: Progress | None = None,
             cancelled: Cancelled | None = None) -> list[Loaded]:
    """Every item, in order; Stopped where cancelled. For a command on as many threads as there are cores: reading and
    checking fingerprints, which is nearly all of it where recordings are on the shelf, lets others run. There samples
    come when they are asked for."""
    wanted, shelf = list(items), own_shelf()
    found: list[Loaded] = []
    # A thread of Qt that starts others is registered by Python for as long as Qt keeps it: there one is enough.
    command = threading.get_ident() == threading.main_thread().ident
    pool = ThreadPoolExecutor(os.cpu_count() or 1) if command else None
    chunks = [wanted[at:at + _CHUNK] for at in range(0, len(wanted), _CHUNK)]
    try:
        for some in (map if pool is None else pool.map)(_load_some, chunks, repeat(shelf), repeat(command)):
            if cancelled is not None and cancelled():
                raise Stopped
            found += some
            if progress is not None:
                progress(len(found) / len(wanted))
    finally:
        if pool is not None:
            pool.shutdown(cancel_futures=True)
    if shelf.grown:
        shelf.tidy()
    return found
