"""Files read again and tables of labels, where some are of sealed people: what of them is new, and what may be told."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from app.study.state import Item, Study
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recordings.batch import Batch, ReadRecording, Refused


@dataclass(frozen=True)
class _Known:
    """What tells that a file, or one recording of it, is under the seal already."""

    people: frozenset[str]
    names: frozenset[str]
    places: frozenset[tuple[str, str]]

    def holds(self, person: str, path: str, sha256: str, recipe: Recipe) -> bool:
        return person in self.people or self.same_file(person, path, sha256, recipe)

    def same_file(self, person: str, path: str, sha256: str, recipe: Recipe) -> bool:
        """Of the same path; or of the same content, where it doesn't say to be of somebody else."""
        part = repr(recipe.part)
        maybe = person == "" or person in self.people
        return (path, part) in self.places or (maybe and sha256 != "" and (sha256, part) in self.places)


def _known(study: Study) -> _Known:
    places = [(place, repr(item.recipe.part)) for item in study.under_seal for place in (item.path, item.sha256)]
    return _Known(frozenset(study.sealed), frozenset(item.name for item in study.under_seal),
                  frozenset(place for place in places if place[0]))


def known_again(study: Study, items: Iterable[Item]) -> list[Item]:
    """New items: those that are a sealed recording read again stay of the person they were of, whatever the file's
    name says now; the same content under another name, or a file that can't be read any more, brings nothing new.
    """
    if not study.under_seal:
        return list(items)
    known, old = _known(study), {item.name: item for item in study.under_seal}
    kept = []
    for item in items:
        before = old.get(item.name)
        if before is not None and not item.refused:
            kept.append(replace(item, about=replace(item.about, person=before.about.person)))
        elif before is None and not known.same_file(item.about.person, item.path, item.sha256, item.recipe):
            kept.append(item)
    return kept


def told_apart(study: Study, batch: Batch) -> Batch:
    """Recordings that only share their name with one under the seal get their path for a name: nothing of either is
    lost, and the name is not told to be taken."""
    known = _known(study)
    return replace(batch, files=tuple(
        _by_path(file) if isinstance(file, ReadRecording) and file.recording.name in known.names
        and not known.same_file(file.recording.about.person, file.source.path, file.recording.sha256, file.recipe)
        else file for file in batch.files))


def _by_path(file: ReadRecording) -> ReadRecording:
    part = file.recording.name.partition(":")[2]
    name = Path(file.source.path).as_posix() + (f":{part}" if part else "")
    return replace(file, recording=replace(file.recording, name=name))


def unveiled(study: Study, batch: Batch) -> Batch:
    """What of a batch may be told: nothing of files that are under the seal of `study`, which has taken it."""
    if not study.sealed:
        return batch
    known = _known(study)
    hidden = [file for file in batch.files if _hides(known, file)]
    names = [item.name for item in study.under_seal] + [name for file in hidden for name in _names(file)]
    files = tuple(file for file in batch.files if not _hides(known, file))
    told = Silence(names)
    problems = tuple(one for one in batch.label_problems if not told.mentions(one.message, one.value))
    remarks = tuple(one for one in batch.remarks if not told.mentions(one.sentence))
    return replace(batch, files=files, label_problems=problems, remarks=remarks)


def _hides(known: _Known, file: ReadRecording | Refused) -> bool:
    if isinstance(file, Refused):
        return known.holds(file.source.about.person, file.source.path, "", Recipe())
    one = file.recording
    return known.holds(one.about.person, file.source.path, one.sha256, file.recipe)


def _names(file: ReadRecording | Refused) -> list[str]:
    return [file.source.name, *([file.recording.name] if isinstance(file, ReadRecording) else [])]


class Silence:
    """Finds in sentences the names of recordings that are not to be told."""

    def __init__(self, names: Iterable[str]) -> None:
        parts = {part for name in names for part in (name, name.rpartition("/")[2]) if part}
        one_of = "|".join(re.escape(part) for part in sorted(parts, key=len, reverse=True))
        self._name = re.compile(rf"(?<!\w)(?:{one_of})(?!\w)") if parts else None

    def mentions(self, *texts: str) -> bool:
        return self._name is not None and any(self._name.search(text) for text in texts)


def unnamed(study: Study, problems: Iterable[Problem]) -> list[Problem]:
    """Those that name no recording under the seal."""
    told = Silence([item.name for item in study.under_seal])
    return [one for one in problems if not told.mentions(one.message, one.value)]
