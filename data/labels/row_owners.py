"""Which recordings a row of a label table is about: found by their names, or by the parts of a pattern."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from pathlib import PurePosixPath
from typing import Protocol

from data.problem import Problem, shown
from data.recipe.name_pattern import match
from data.recipe.sections import LabelTable
from data.recordings.model import Recording


class KeyedRow(Protocol):
    """A row of a label table, as far as finding its recording goes."""

    @property
    def key(self) -> str: ...
    @property
    def file(self) -> str: ...
    @property
    def line(self) -> int: ...


class RecordingIndex:
    """Finds the recordings that a row's key names."""

    def __init__(self, recordings: Sequence[Recording], spec: LabelTable) -> None:
        self._recordings = recordings
        self._pattern = spec.key_pattern
        self._by_name: dict[str, list[Recording]] = defaultdict(list)
        self._by_start: dict[str, list[Recording]] = defaultdict(list)
        """By what a key without a file's suffix would be: F01/walk_1 for lab/F01/walk_1_accel."""
        for recording in recordings:
            for name in _names(recording.name) | (_names(recording.group) if recording.group else set()):
                self._by_name[name].append(recording)
            for start in _starts(recording.name):
                self._by_start[start].append(recording)
        self._by_parts: dict[tuple[str, ...], dict[tuple[str, ...], list[Recording]]] = {}

    def owners(self, row: KeyedRow) -> list[Recording]:
        parts = match(self._pattern, row.key) if self._pattern else None
        if parts:
            parts.pop("part", None)
        if parts:
            return self._parts_index(tuple(sorted(parts))).get(tuple(parts[p] for p in sorted(parts)), [])
        return self._by_name.get(row.key) or self._by_start.get(row.key) or self._by_whole_name(row.key)

    def _by_whole_name(self, key: str) -> list[Recording]:
        """Those whose whole name, with a folder in it, the key ends with; its own suffix and folders above left out."""
        for name in sorted(_names(key), key=len, reverse=True):
            found = [one for one in self._by_name.get(name, ()) if "/" in name or name == key.rpartition(".")[0]]
            if found:
                return found
        return []

    def like(self, key: str) -> str:
        """The one recording that is called so but for folders and suffix; empty where there is none, or several."""
        last = PurePosixPath(key).stem
        found = {one.name for one in self._by_name.get(last, ())}
        return found.pop() if last and len(found) == 1 else ""

    def _parts_index(self, parts: tuple[str, ...]) -> dict[tuple[str, ...], list[Recording]]:
        if parts not in self._by_parts:
            index: dict[tuple[str, ...], list[Recording]] = defaultdict(list)
            for recording in self._recordings:
                index[tuple(recording.about.told(part) for part in parts)].append(recording)
            self._by_parts[parts] = index
        return self._by_parts[parts]


def _names(name: str) -> set[str]:
    """What a recording may be called: by its path or the end of it, with or without the suffix."""
    path = PurePosixPath(name)
    stem = path.with_suffix("") if path.suffix.lower() in (".csv", ".tsv", ".txt", ".dat") else path
    return _tails(path) | _tails(stem)


def _tails(path: PurePosixPath) -> set[str]:
    """lab/F01/walk_1, F01/walk_1 and walk_1: a folder that was dropped with others above it changes no key."""
    return {str(PurePosixPath(*path.parts[i:])) for i in range(len(path.parts))}


def _starts(name: str) -> set[str]:
    """Every way to begin what a recording may be called, up to an underscore."""
    return {tail[:at] for tail in _tails(PurePosixPath(name)) for at, sign in enumerate(tail) if sign == "_" and at}


def no_owner(row: KeyedRow, owners: list[Recording], like: str = "") -> Problem:
    if not owners:
        return Problem(
            "label_unknown",
            f'The study has no recording "{shown(row.key)}".',
            f'If it is "{like}", write that as the key.' if like else "Correct the key, or read that recording too.",
            file=row.file,
            line=row.line,
            value=shown(row.key),
        )
    some = ", ".join(recording.name for recording in owners[:3])
    return Problem(
        "label_ambiguous",
        f'"{shown(row.key)}" may be any of {len(owners)} recordings ({some}{", …" if len(owners) > 3 else ""}).',
        "Write the recording's whole name.",
        file=row.file,
        line=row.line,
        value=shown(row.key),
    )


def nodes_of_one(recordings: Sequence[Recording]) -> bool:
    """Whether these are the nodes of one recording: what happened, happened to all of them."""
    return len({recording.group for recording in recordings}) == 1 and recordings[0].group != ""
