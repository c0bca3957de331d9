"""Which files, of all that was named, are recordings: found by name, and put together where several are one."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from data.files import content_of
from data.problem import Problem, from_os_error, is_text, printable
from data.recipe.name_pattern import blanked, match
from data.recipe.recipe import Recipe
from data.recordings.model import About, Remark

TABLE_SUFFIXES = (".csv", ".tsv", ".txt", ".dat", ".npy", ".npz", ".wav", ".xlsx", ".parquet", ".edf", ".bdf")
"""Files of a folder that are tried without a pattern that names them."""

EVENTS_SUFFIX = "_events.tsv"
"""Tables with names of this ending are labels of the recording that the rest of the name is of."""

MOST_BYTES = 2 * 1024**3


@dataclass(frozen=True)
class SourceFile:
    """A file to be read: `name` as people see it, relative to what was dropped; `path` absolute.

    `more`: files that continue it. `group`: what the nodes of one recording have in common, empty without nodes.
    """

    name: str
    path: str
    about: About
    more: tuple[str, ...] = ()
    group: str = ""

    @property
    def paths(self) -> tuple[str, ...]:
        return (self.path, *self.more)

    def bytes(self) -> list[bytes]:
        """What is in the files. Raises Problem where they are gone, forbidden or far too large."""
        return [_bytes_of(path, self.name if not self.more else os.path.basename(path)) for path in self.paths]


def _bytes_of(path: str, name: str) -> bytes:
    try:
        if os.path.getsize(path) > MOST_BYTES:
            raise Problem("too_large", "The file is larger than 2 GB.", "Split it into several recordings.", file=name)
        return content_of(path)
    except OSError as error:
        raise from_os_error(error, name, "read") from error


@dataclass(frozen=True)
class FoundFiles:
    """`tables`: events tables, with the name of what they are about. `missing`: what isn't there, and why."""

    sources: list[SourceFile]
    tables: dict[Path, str]
    missing: list[tuple[SourceFile, Problem]]
    remarks: list[Remark]


def find_sources(paths: Sequence[Path], recipe: Recipe, label_tables: Sequence[Path] = ()) -> FoundFiles:
    """The recordings among what was named, events tables beside them, what isn't there, and what was passed over."""
    sources: dict[str, SourceFile] = {}
    fitted: dict[str, str] = {}
    found = FoundFiles([], {}, [], [])
    passed: list[str] = []
    taken = {os.path.abspath(table) for table in label_tables}
    for path in paths:
        in_folder = path.is_dir()
        before = len(sources), len(passed), len(found.missing), len(found.tables)
        base = path if in_folder else path.parent
        for file in _walk(path, found.missing) if in_folder else [path]:
            absolute = os.path.abspath(file)
            name = Path(os.path.relpath(file, base)).as_posix()
            if absolute in taken:
                continue
            if not is_text(name):
                found.missing.append(_misnamed(name, absolute))
                continue
            if name.endswith(EVENTS_SUFFIX):
                found.tables[file] = name.removesuffix(EVENTS_SUFFIX)
                continue
            fits, parts = _fitting(name, absolute, recipe.pattern)
            if in_folder and (parts is None or not (recipe.pattern or file.suffix.lower() in TABLE_SUFFIXES)):
                passed.append(name)
                continue
            # A file that was named by itself is wanted, whatever its name.
            about = recipe.about.with_told({k: v for k, v in (parts or {}).items() if k != "part"})
            group = blanked(recipe.pattern, fits, "node") if parts and "node" in parts else ""
            if absolute not in sources:
                sources[absolute] = SourceFile(name, absolute, about, group=group)
                fitted[absolute] = fits
        if in_folder and before == (len(sources), len(passed), len(found.missing), len(found.tables)):
            found.missing.append(_nothing_in(path))
    found.sources.extend(_joined(list(sources.values()), fitted, recipe.pattern))
    found.remarks.extend(_passed_over(passed, recipe))
    return found


def _walk(folder: Path, missing: list[tuple[SourceFile, Problem]]) -> Iterable[Path]:
    """Every file in a folder and below, in order of name, through links to folders too; hidden ones left out."""

    def note(error: OSError) -> None:
        name = str(error.filename or folder)
        missing.append((SourceFile(name, os.path.abspath(name), About()), from_os_error(error, name, "read")))

    seen: set[str] = set()
    for here, folders, files in os.walk(folder, onerror=note, followlinks=True):
        whole = os.path.realpath(here)
        if whole in seen:  # a link back up, or two to one place
            folders.clear()
            continue
        seen.add(whole)
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(files):
            if not name.startswith("."):
                yield Path(here) / name


def _nothing_in(folder: Path) -> tuple[SourceFile, Problem]:
    """A folder without a file that might be a recording: what was looked for, and where."""
    where = os.path.abspath(folder)
    problem = Problem("folder_empty", "The folder and those below it hold no file; hidden ones were not looked at.",
                      f"Recordings are files such as {', '.join(TABLE_SUFFIXES[:4])}: name the folder that has them.",
                      file=printable(where))
    return SourceFile(printable(folder.name or where), where, About()), problem


def _misnamed(name: str, absolute: str) -> tuple[SourceFile, Problem]:
    """A name that is not text can't be that of a recording: no file could hold it."""
    plain = printable(name)
    problem = Problem("file_name", "The file's name holds bytes that are not UTF-8 text.",
                      "Rename it.", file=plain, value=plain)
    return SourceFile(plain, absolute, About()), problem


def _fitting(name: str, absolute: str, pattern: str) -> tuple[str, dict[str, str] | None]:
    """The end of the path that the pattern fits, and the parts in it; None where it fits nowhere."""
    if not pattern:
        return name, {}
    tail = Path(absolute).as_posix().split("/")
    # A file dropped by itself, or a folder above the one that the pattern begins in, shows less or more of the path.
    for end in (name, *("/".join(tail[i:]) for i in range(len(tail) - 1, 0, -1))):
        parts = match(pattern, end)
        if parts is not None:
            return end, parts
    return name, None


def _joined(sources: list[SourceFile], fitted: dict[str, str], pattern: str) -> list[SourceFile]:
    """Files that differ only in their {part} as one source each, in the order of their parts."""
    if "{part}" not in pattern:
        return sources
    together: dict[str, list[SourceFile]] = {}
    for source in sources:
        fits = fitted[source.path]
        where = source.path[: len(source.path) - len(fits)]
        together.setdefault(where + blanked(pattern, fits, "part"), []).append(source)
    joined = []
    for some in together.values():
        some.sort(key=lambda source: _natural((match(pattern, fitted[source.path]) or {}).get("part", "")))
        joined.append(replace(some[0], more=tuple(source.path for source in some[1:])))
    return joined


def _natural(text: str) -> list[tuple[int, str]]:
    """part10 after part9."""
    return [(int(piece), "") if piece.isdigit() else (-1, piece) for piece in re.split(r"(\d+)", text) if piece]


_MISFIT = 'the pattern "{}" doesn\'t fit'


def _passed_over(passed: list[str], recipe: Recipe) -> list[Remark]:
    if not passed:
        return []
    if len(passed) == 1:
        files, have, were = "file", f"has a name that {_MISFIT}" if recipe.pattern else "is not a table", "was"
    else:
        files, have, were = "files", f"have names that {_MISFIT}" if recipe.pattern else "are not tables", "were"
    some = ", ".join(passed[:3]) + (", …" if len(passed) > 3 else "")
    return [Remark("passed_over", f"{len(passed)} {files} {have.format(recipe.pattern)} and {were} not read: {some}.")]
