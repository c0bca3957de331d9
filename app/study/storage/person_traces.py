"""Archives, reports and tables around a study that still hold or name somebody's recordings."""

from __future__ import annotations

import os
import re
import zipfile
from collections.abc import Collection, Iterator
from pathlib import Path

ENDINGS = (".zip", ".html", ".json", ".csv", ".tsv", ".txt", ".pdf")
MOST_BYTES = 64 * 1024**2
MOST_DEPTH = 4


def traces_in(folder: Path, person: str, names: Collection[str], digests: Collection[str],
              apart: Collection[Path]) -> tuple[Path, ...]:
    """Files in and under a folder with the pseudonym as a word, a recording's name or the SHA-256 of its file in them;
    of archives in what they hold. `apart`: files that are dealt with. A PDF is told by its name alone."""
    words = [person, *names, *(Path(name).name for name in names), *digests]
    found = re.compile(rb"(?<!\w)(?:" + b"|".join(re.escape(one.encode()) for one in words) + rb")(?!\w)")
    return tuple(path for path in _files(folder) if path not in apart and _holds(path, found))


def _files(folder: Path) -> Iterator[Path]:
    for at, folders, names in os.walk(folder):
        if len(Path(at).relative_to(folder).parts) >= MOST_DEPTH:
            folders.clear()
        folders.sort()
        for name in sorted(names):
            if name.casefold().endswith(ENDINGS):
                yield Path(at) / name


def _holds(path: Path, words: re.Pattern[bytes]) -> bool:
    try:
        if words.search(path.name.encode()):
            return True
        if path.suffix.casefold() == ".zip":
            with zipfile.ZipFile(path) as archive:
                return any(words.search(one.filename.encode())
                           or (one.file_size <= MOST_BYTES and words.search(archive.read(one)))
                           for one in archive.infolist())
        return path.stat().st_size <= MOST_BYTES and words.search(path.read_bytes()) is not None
    except (OSError, zipfile.BadZipFile, RuntimeError):  # what can't be read can't be looked into
        return False
