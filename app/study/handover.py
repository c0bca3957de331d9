"""What goes to the firmware, with where it comes from."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from pathlib import Path

from app.study.chosen import settings_from
from app.study.device.carried import device_lines
from app.study.session import Session
from app.study.state import Item, Study
from data.problem import from_os_error
from data.saving import write_atomically
from detect.firmware.check import CheckReport, Recorded
from detect.firmware.check import check as check_folder
from detect.firmware.export import write_export
from detect.firmware.header import NAME, Provenance, write_header


def provenance(session: Session) -> Provenance:
    """Digests of what the settings were scored on, the score in words, and the device around them."""
    study = session.study
    scored = [item for item in study.items if item.scored and item.name in session.library]
    if not scored:
        return Provenance(device=device_lines(session))
    view = session.results().score
    figures = (f"{cell.name}: {cell.text} ({cell.interval})" for cell in view.cells if cell.interval)
    score = [view.headline.replace(" · ", ", "), *figures, view.strays]
    return Provenance(
        recordings_sha256=_digest([[item.name, item.sha256, *_kept(item)] for item in scored]),
        labels_sha256=_digest([[item.name, [asdict(one) for one in item.labels
                                                  if study.annotator in (None, one.annotator)]] for item in scored]),
        recordings=len(scored), events=view.falls + view.others, score=tuple(score), synthetic=synthetic(study),
        device=device_lines(session))


def _kept(item: Item) -> list[float]:
    """What of it was scored, where that is not all."""
    return [item.trim.start_s, item.trim.end_s] if item.trim.total_s else []


def synthetic(study: Study) -> bool:
    return "synthetic" in study.notes.lower()


def _digest(rows: list) -> str:
    """SHA-256 over the rows in order of name, as compact JSON: the same for the same recordings in any order."""
    text = json.dumps(sorted(rows, key=lambda row: row[0]), ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def header(session: Session) -> str:
    """plumbfall_params.h of the settings in hand."""
    return write_header(session.study.settings, session.study.front_end, provenance(session))


def export(session: Session, folder: Path) -> list[Path]:
    """Write the folder; raises Problem where a file can't be written."""
    files = write_export(session.study.settings, session.study.front_end, provenance(session), session.study.device)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise from_os_error(error, str(folder), "save") from error
    written = []
    for name, content in files.items():
        write_atomically(folder / name, content)
        written.append(folder / name)
    return written


def check(folder: Path, session: Session | None) -> CheckReport:
    """Build an exported folder, run its vectors, and send a study's recordings through its C.

    The study is scored under the folder's own settings: what is compared is the code, not the choice of numbers.
    """
    recordings: list[Recorded] = []
    if session is not None:
        session.adopt(settings_from(folder / NAME, session.study.front_end))
        for item in session.study.items:
            explained = session.explained(item.name)
            if explained is not None:
                recordings.append(Recorded(item.name, explained.seen.stretches(), explained.attempts))
    return check_folder(folder, recordings)
