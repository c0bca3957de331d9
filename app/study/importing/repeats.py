"""What is in the study already: the same content under another name would count twice, another of the same name would
take the first one's place."""

from __future__ import annotations

from dataclasses import dataclass, replace

from app.study.sealed import sealed_set
from app.study.state import Item, Study
from data.problem import Problem
from data.recordings.batch import Batch, ReadRecording, Refused

SAME, TAKEN = REPEATS = ("same_content", "name_taken")
"""Kinds of problems of files that are not listed in the study though they were refused: something of theirs is."""


_Content = tuple[str, tuple[tuple[str, str], ...]]
"""A file's fingerprint, and which of its recordings."""


@dataclass(frozen=True)
class _Known:
    name: str
    sealed: bool


def without_repeats(study: Study, batch: Batch, keep_same: bool) -> Batch:
    """The batch with what is in the study, or earlier in the batch, already refused. `keep_same`: the same content
    under another name is wanted."""
    sealed = {item.name for item in study.under_seal}
    items = {item.name: item for item in sealed_set.whole(study).items if not item.refused}
    known = {(item.sha256, item.recipe.part): _Known(item.name, item.name in sealed)
             for item in items.values() if item.sha256}
    files: list[ReadRecording | Refused] = []
    for file in batch.files:
        problem = None
        if isinstance(file, ReadRecording):
            problem = _repeat(file, items, known, keep_same)
            if problem is None:
                one = file.recording
                known.setdefault((one.sha256, file.recipe.part), _Known(one.name, False))
        files.append(file if problem is None else Refused(file.source, problem))
    said = batch.remarks if keep_same else tuple(one for one in batch.remarks if one.kind != "same")  # refused instead
    return replace(batch, files=tuple(files), remarks=said)


def same_content(study: Study, batch: Batch) -> list[Problem]:
    """What of a batch would count twice, which a person may want all the same."""
    return [file.problem for file in without_repeats(study, batch, False).refused if file.problem.kind == SAME]


def _repeat(file: ReadRecording, items: dict[str, Item], known: dict[_Content, _Known],
            keep_same: bool) -> Problem | None:
    one, there = file.recording, items.get(file.recording.name)
    if there is not None and there.path != file.source.path and there.sha256 != one.sha256:
        return Problem(TAKEN, f'The study has another recording named "{one.name}", of {there.path}.',
                       "Rename this file, or read both from a folder above them, so that each has a name of its own.",
                       file=file.source.name, value=one.name)
    other = known.get((one.sha256, file.recipe.part))
    if keep_same or other is None or other.name == one.name:
        return None
    named = "a recording of the study" if other.sealed else f'"{other.name}"'
    return Problem(SAME, f"It has the same content as {named}, and would count twice.",
                   "Leave it out, or read it all the same.", file=file.source.name, field="same", value=one.name)
