"""Opening the sealed set: the current settings scored on the people put aside. It is counted before it is shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from app.study.results.content import ScoreView
from app.study.results.score_json import CAUTION, figures_plain
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.state import Study
from data.problem import Problem
from data.recordings.model import Recording
from data.study import study_file
from data.study.seal_record import OPENED, SealEntry, SealRecord, appended
from detect.firmware.header.identity import IDENTITY_VERSION, identity, settings_sha256
from detect.rule.integers import rule_of


@dataclass(frozen=True, eq=False)
class Scored:
    """The sealed people under a study's settings: for nobody's eyes before it has been counted."""

    study: Study
    view: ScoreView
    plain: Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class Opening:
    """One opening of the seal, counted: the `number`-th of its study."""

    number: int
    entry: SealEntry
    view: ScoreView
    plain: Mapping[str, Any]


def cost(study: Study) -> str:
    """What opening the seal costs, for whoever is about to."""
    return (f"Opening scores the current settings on the sealed set ({sealed_set.sentence(study)}). "
            f"{sealed_set.opened(study)} Each time, people whom no choice had seen become people whom the next choice "
            "may have been made for: their figures are worth most the first time, and once settings are changed "
            "because of them they have been tuned on. The opening is written into the study's file with its date and "
            f"the settings' digest, and can't be undone. {sealed_set.COPIES}")


def scored(study: Study, library: Mapping[str, Recording]) -> Scored:
    """The slow step; safe on another thread. Raises Problem where there is nothing to open."""
    if not study.under_seal:
        raise Problem("seal", "No recording is under the seal, so nothing can be opened.",
                      "Seal people of the study first.")
    missing = sum(item.name not in library for item in study.under_seal)
    if missing:
        raise Problem("seal", f"{missing} of {len(study.under_seal)} sealed recordings can't be read, so nothing was "
                      "opened or counted.", "Locate their files first.")
    apart = Session(replace(study, items=study.under_seal, under_seal=(), sealed=(), seal=SealRecord(), other=None,
                            mark=None, kept=()))
    apart.library = {item.name: library[item.name] for item in study.under_seal}
    view = apart.results().score
    if not view.falls + view.others:
        raise Problem("seal", "No recording under the seal has a label that is scored, so nothing was opened or "
                      "counted.", "Read a table of labels first: labels of sealed recordings are read too.")
    return Scored(study, view, figures_plain(apart))


def counted(session: Session, found: Scored, when: str) -> Opening:
    """Write the opening into the study's file and its record; only then may it be shown. Raises Problem."""
    study = session.study
    rule = rule_of(found.study.settings, found.study.front_end)
    entry = SealEntry(OPENED, when, found.study.sealed, len(found.study.under_seal),
                      identity=f"{identity(rule, found.study.front_end):08X}", identity_version=IDENTITY_VERSION,
                      settings_sha256=settings_sha256(rule, found.study.front_end),
                      matrix=dict(found.view.counts), scored_with=sealed_set.scored_with(found.study))
    record = appended(study.seal, entry)
    write(session.path, study.sealed, record)
    session.record(record)
    return Opening(len(record.openings), record.entries[-1], found.view, found.plain)


def release(session: Session, people: Sequence[str], when: str) -> None:
    """Take people back from under the seal; that is written too before anything of them is shown. Raises Problem."""
    write(session.path, *sealed_set.released(session.study, people, when))
    session.release(people, when)


def write(path: Path | None, sealed: tuple[str, ...], record: SealRecord) -> None:
    """Only the sealed set and its record go into the file: what else is unsaved stays so. Raises Problem."""
    if path is None:
        raise Problem("seal", "The study has no file yet in which this could be recorded.", "Save the study first.")
    saved = study_file.load(path)
    if not record.begins_with(saved.seal):
        raise Problem("seal", "The record of the sealed set in the file differs from the open one: it was "
                      "continued elsewhere.", "Open the study again.", file=path.name)
    study_file.save(replace(saved, sealed=sealed, seal=record), path)


def plain(opening: Opening, study: Study) -> dict[str, Any]:
    """For JSON."""
    entry = opening.entry
    return {"opening": opening.number, "when": entry.when, "people": len(entry.people), "recordings": entry.recordings,
            "identity_crc32": entry.identity, "identity_version": entry.identity_version,
            "settings_sha256": entry.settings_sha256, **opening.plain,
            "remarks": list(sealed_set.remarks(study)), "sealed": sealed_set.plain(study),
            "caution": f"{CAUTION} {sealed_set.COPIES}"}
