"""Results that take long, kept beside the study under the digest of what they were made from: a report is quick, and
one made from other recordings, labels or settings is known to be stale."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from pathlib import Path

from app.study.report.page import Section, missing, outdated, plain, section_from
from app.study.report.versions import program_version
from app.study.session import Session
from data.files import write_atomically
from data.problem import from_os_error

LAYOUT = 1


def folder_of(study: Path) -> Path:
    """`STUDY.results` beside STUDY.json."""
    return study.with_name(f"{study.stem}.results")


def inputs(session: Session, numbers: Sequence[str] = ()) -> str:
    """SHA-256 of all that a result depends on: recordings, labels, how these are scored, settings, sensor, and of the
    device's numbers those whose key begins with one of `numbers`."""
    study = session.study
    parts = {
        "layout": LAYOUT, "version": program_version(), "digests": session.digests(),
        "scoring": session.scoring(), "about": [[item.name, item.about.plain()] for item in study.items if item.scored],
        "settings": study.settings.plain(), "front_end": study.front_end.plain(),
        "device": {key: study.device[key] for key in study.device if key.startswith(tuple(numbers))} if numbers else {},
    }
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()


def keep(study: Path, section: Section, digest: str) -> None:
    """Raises Problem where the place can't be written."""
    folder = folder_of(study)
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise from_os_error(error, str(folder), "save") from error
    text = json.dumps({"inputs": digest, "section": plain(section)}, ensure_ascii=False, indent=1)
    write_atomically(folder / f"{section.key}.json", (text + "\n").encode())


def kept(study: Path | None, key: str, title: str, digest: str) -> Section:
    """The section as it was kept; one of other inputs says that it is stale, one never made that it is missing."""
    path = None if study is None else folder_of(study) / f"{key}.json"
    try:
        found = json.loads(path.read_text("utf-8")) if path is not None else None
        section = None if found is None else section_from(found["section"])
    except (OSError, ValueError, KeyError, TypeError):
        found = section = None
    if found is None or section is None:
        return missing(key, title, "Not computed for this study: nothing is known of it here. "
                       "The option --compute, or the box in the window, computes it.")
    if found["inputs"] != digest:
        return outdated(section, "Stale: computed from other recordings, labels, settings, device numbers or by "
                        "another version than this report is of. The option --compute, or the box in the window, "
                        "computes it anew.")
    return section
