"""Everything of one person's recordings deleted as one action: files of captures, raw captures, cache, recovery copy,
every state of the history. Only a digest of the pseudonym stays, in the record of the sealed set.

What a person imported from elsewhere is their own file and stays; it is named, as is every export, archive, report or
table around the study that still holds or names their recordings.
"""

from __future__ import annotations

import os
import re
import zipfile
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from app.formatting import plural
from app.study.capture.raw_file import SUFFIX, without_nodes
from app.study.capture.study_intake import captures_of
from app.study.recordings.samples import own_shelf
from app.study.sealed import sealed_set
from app.study.sealed.disclosure import Silence
from app.study.session import Session
from app.study.state import Item, Study
from data.problem import Problem, from_os_error
from data.recordings.cache import Shelf
from data.study.seal_record import SealRecord, pseudonym_digest, without_person
from data.study.study_file import recovery_path
from data.study.tuned_record import TunedRecord

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


_CAPTURED = re.compile(r"(.+)_node(\d+)_\d+\.csv")


@dataclass(frozen=True)
class Deletion:
    """What is deleted, and what stays: `files` and `raws` go, `rewritten` lose these nodes, `elsewhere` are files that
    were imported, `traces` archives, reports and tables that still hold or name the person."""

    person: str
    recordings: tuple[str, ...]
    files: tuple[Path, ...]
    raws: tuple[Path, ...]
    rewritten: dict[Path, frozenset[int]] = field(default_factory=dict)
    elsewhere: tuple[Path, ...] = ()
    traces: tuple[Path, ...] = ()

    def sentences(self) -> list[str]:
        """Before it is done, and after."""
        said = [f"{plural(len(self.recordings), 'recording')} of {self.person} in the study, undo and history "
                "included.",
                f"{plural(len(self.files), 'file')} of captures, {plural(len(self.raws), 'raw capture')} whole, "
                f"{len(self.rewritten)} raw "
                "captures of several people without their nodes, the cache of recordings, the recovery copy."]
        if self.elsewhere:
            said.append("Imported files stay where they are; delete them yourself: "
                        + ", ".join(map(str, self.elsewhere)) + ".")
        if self.traces:
            said.append("These still hold or name the person; delete or make them anew: "
                        + ", ".join(map(str, self.traces)) + ".")
        said.append("Exports, archives and copies kept elsewhere are not known here. The record of the sealed set "
                    f"keeps {pseudonym_digest(self.person)[:18]}…, a digest of the pseudonym, and nothing else.")
        return said


def planned(session: Session, person: str) -> Deletion:
    """What deleting a person would do. Problem where the study was never saved, or has nobody of that name."""
    path = session.path
    if path is None:
        raise Problem("delete_person", "The study was never saved.", "Save it first: the deletion is written into its "
                      "file.")
    theirs, others = _items(session, person)
    if not person or not theirs:
        raise Problem("delete_person", f'The study has no recording of "{person}".', "Write the pseudonym as the "
                      "recordings have it.", value=person)
    kept = {Path(one) for item in others for one in (item.path, *item.more)}
    own = {Path(one) for item in theirs for one in (item.path, *item.more)} - kept
    folder = captures_of(path)
    files = tuple(sorted(one for one in own if one.parent == folder and one.is_file()))
    raws, rewritten = _raws(folder, files)
    names = tuple(dict.fromkeys(item.name for item in theirs))
    elsewhere = tuple(sorted(one for one in (Path(p) for item in theirs for p in (item.path, *item.more))
                             if one.parent != folder and one.is_file()))
    traces = traces_in(path.parent, person, names, {item.sha256 for item in theirs if item.sha256},
                       {path, recovery_path(path, folder), *files, *elsewhere})
    return Deletion(person, names, files, raws, rewritten, tuple(dict.fromkeys(elsewhere)), traces)


def delete(session: Session, deletion: Deletion, state_folder: Path, shelf: Shelf | None = None) -> None:
    """Do it, and save the study. Files go first: what is interrupted can be done again. Problem where a file can't be
    deleted; the study is as it was then."""
    path = session.path
    assert path is not None
    for raw, nodes in deletion.rewritten.items():
        without_nodes(raw, nodes)
    for file in (*deletion.files, *deletion.raws):
        try:
            file.unlink(missing_ok=True)
        except OSError as error:
            raise from_os_error(error, str(file), "delete") from error
    try:
        (shelf or own_shelf()).empty()
        recovery_path(path, state_folder).unlink(missing_ok=True)
    except OSError as error:
        raise from_os_error(error, "the cache or the recovery copy", "delete") from error
    person, names, when = deletion.person, frozenset(deletion.recordings), sealed_set.now()
    seal = without_person(session.study.seal, person, names, when)
    silence = Silence([*names, person])
    session.forget(lambda study: _without(study, person, seal), names,
                   lambda done: "a change to what was deleted" if silence.mentions(done) else done)
    session.save(path)


def _items(session: Session, person: str) -> tuple[list[Item], list[Item]]:
    """The person's recordings, and everybody else's, in any state that the study had; none of either twice."""
    every: dict[tuple[str, str, str], Item] = {}
    for study in session.history.studies():
        every |= {(item.name, item.path, item.about.person): item for item in (*study.items, *study.under_seal)}
    return ([item for item in every.values() if item.about.person == person],
            [item for item in every.values() if item.about.person != person])


def _raws(folder: Path, files: Iterable[Path]) -> tuple[tuple[Path, ...], dict[Path, frozenset[int]]]:
    """The raw captures that hold nothing else than these recordings, and those that lose only some nodes."""
    gone: dict[str, set[int]] = {}
    deleted = set(files)
    for file in deleted:
        if (found := _CAPTURED.fullmatch(file.name)) is not None:
            gone.setdefault(found[1], set()).add(int(found[2]))
    whole, rewritten = [], {}
    for stem, nodes in sorted(gone.items()):
        raw = folder / f"{stem}{SUFFIX}"
        if not raw.is_file():
            continue
        if any(file not in deleted for file in folder.glob(f"{stem}_node*.csv")):
            rewritten[raw] = frozenset(nodes)
        else:
            whole.append(raw)
    return tuple(whole), rewritten


def _without(study: Study, person: str, seal: SealRecord) -> Study:
    code = pseudonym_digest(person)

    def without(record: TunedRecord) -> TunedRecord:
        return replace(record, people=tuple(replace(one, person=code) if one.person == person else one
                                            for one in record.people))

    return replace(study, items=tuple(item for item in study.items if item.about.person != person),
                   under_seal=tuple(item for item in study.under_seal if item.about.person != person),
                   sealed=tuple(one for one in study.sealed if one != person),
                   tuned=tuple(map(without, study.tuned)), seal=seal)
