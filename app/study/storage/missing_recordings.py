"""Files that moved since the study was saved, found again by their fingerprint: never by their name alone."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from app.study.state import Item
from data.files import content_of, opened
from data.recordings.reading import fingerprint

MOST_FILES = 100_000


def lost(items: Iterable[Item]) -> list[Item]:
    """Items whose files are gone or are not those that the study was saved with."""
    return [item for item in items if item.sha256 and not _is(item.sha256, (item.path, *item.more))]


def found_again(items: Sequence[Item], folders: Sequence[Path]) -> dict[str, tuple[str, ...]]:
    """Where the files of lost items are now, for those that are in one of the folders or below.

    Files of the same name are looked at first; then all whose content it might be.
    """
    wanted = {item.name: item for item in items}
    found: dict[str, tuple[str, ...]] = {}
    here = list(_files(folders))
    by_name: dict[str, list[str]] = {}
    for path in here:
        by_name.setdefault(os.path.basename(path), []).append(path)
    for item in items:
        named = [by_name.get(os.path.basename(path), []) for path in (item.path, *item.more)]
        paths = _together(item, named)
        if paths:
            found[item.name] = paths
            del wanted[item.name]
    singles: dict[str, list[Item]] = {}
    for item in wanted.values():
        if not item.more:  # several renamed files can't be told without trying them in every order
            singles.setdefault(item.sha256, []).append(item)
    for path in here if singles else ():
        digest = _digest(path)
        for item in singles.pop(digest, ()):
            found[item.name] = (path,)
        if not singles:
            break
    return found


def _together(item: Item, named: list[list[str]]) -> tuple[str, ...] | None:
    """The files of these names whose content, one after the other, is the item's; in one folder where it is several."""
    if not item.more:
        return next(((path,) for path in named[0] if _digest(path) == item.sha256), None)
    folders = {os.path.dirname(path) for path in named[0]}
    for folder in sorted(folders):
        paths = tuple(os.path.join(folder, os.path.basename(path)) for path in (item.path, *item.more))
        if all(path in some for path, some in zip(paths, named, strict=True)) and _is(item.sha256, paths):
            return paths
    return None


def _files(folders: Sequence[Path]) -> Iterator[str]:
    count = 0
    for folder in folders:
        for here, below, files in os.walk(folder):
            below[:] = sorted(name for name in below if not name.startswith("."))
            for name in sorted(files):
                count += 1
                if count > MOST_FILES:
                    return
                yield os.path.abspath(os.path.join(here, name))


def _digest(path: str) -> str:
    try:
        with opened(path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def _is(sha256: str, paths: Sequence[str]) -> bool:
    try:
        return fingerprint([content_of(path) for path in paths]) == sha256
    except OSError:
        return False
