"""What goes to the firmware, with where it comes from.

Its files go into a folder never through a link, and never a new header beside old vectors.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, replace
from pathlib import Path

from app.formatting import sensor, value_spoken
from app.study.device.budget import GROUPS, budget_view, slept_of
from app.study.pipeline import Cancelled, Progress
from app.study.results import score_json, standing_warnings, worth
from app.study.results.standing_warnings import in_line
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.state import Study
from app.study.storage.study_files import Chosen, record_of, settings_from, settings_plain
from data.files import write_atomically
from data.problem import Problem, os_refusals
from detect.device.energy.current import WOKEN
from detect.device.part import part
from detect.device.quantities import Plain, Values
from detect.firmware.check import CheckReport, CountsRecording
from detect.firmware.check import check as check_folder
from detect.firmware.export import MANIFEST, write_export
from detect.firmware.header import writer
from detect.firmware.header.identity import identity
from detect.firmware.header.reader import read_header
from detect.firmware.header.writer import NAME, SPDX, Provenance, write_header
from detect.rule.integers import rule_of
from detect.workers import Stopped


def write_folder(folder: Path, files: Mapping[str, bytes], progress: Progress) -> list[Path]:
    """Every file of an export, by name and content, at its place below the folder, which is made if it isn't there.

    The old manifest goes first and the new one comes last, after the header: whatever ends this in between leaves a
    folder without a manifest, which tells that it is not whole, and a new header only where all else is new.
    Raises Problem where a file can't be written, or where it or the folder is a symbolic link: then nothing is changed.
    """
    inside = {folder / name for name in files}
    for path in sorted({folder, *inside, *(path.parent for path in inside)}):
        if path.is_symlink():
            raise Problem("link", "is a symbolic link; an export would change what it leads to.",
                          "Remove the link, or choose another folder.", file=str(path))
    with os_refusals(str(folder), "save"):
        folder.mkdir(parents=True, exist_ok=True)
        (folder / MANIFEST).unlink(missing_ok=True)
    in_order = sorted(files, key=lambda name: (name == MANIFEST, name == writer.NAME))
    for at, name in enumerate(in_order):
        progress(at / len(files))
        with os_refusals(str(folder), "save"):
            (folder / name).parent.mkdir(exist_ok=True)
        write_atomically(folder / name, files[name], through_links=False)
    return [folder / name for name in files]


def device_lines(session: Session) -> tuple[str, ...]:
    """A line of plain text each; the same study gives the same lines."""
    study, view = session.study, budget_view(session, slept_of(session))
    lines = [*part.header_lines(study.device, study.front_end, study.settings), f"budget: {view.headline}"]
    lines += [f"  {name}: {value} ({remark})" for name, value, remark in view.rows]
    lines += [f"  {'refused' if one.refused else 'warning'}: {one}" for one in view.against]
    return (*lines, "numbers of the budget, with where each comes from:", *_numbers(study.device))


def _numbers(values: Values) -> Iterator[str]:
    groups = (*GROUPS, "wake") if values.text("current.sleeps") == WOKEN else GROUPS
    for key, value in values.items():
        row = values.row(key)
        if row.group in groups:
            origin = f"set for this study; starts at {_said(row.default)}" if key in values.given else row.origin
            yield f"  {key} = {_said(value)} {row.unit}".rstrip() + f" ({origin})"


def _said(value: Plain) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return value if isinstance(value, str) else f"{value:.10g}"


def provenance(session: Session) -> Provenance:
    """Digests of what the settings were scored on, the score in words, and the device around them."""
    study = session.study
    scored = [item for item in study.items if item.scored and item.name in session.library]
    if not scored:
        return Provenance(device=device_lines(session))
    view = session.results().score
    figures = (f"{cell.name}: {cell.text} ({cell.interval})" for cell in view.cells if cell.interval)
    score = [view.headline.replace(" · ", ", "), *figures, view.unlabelled]
    recordings, labels = session.digests()
    return Provenance(
        recordings_sha256=recordings, labels_sha256=labels, recordings=len(scored), events=view.falls + view.others,
        score=tuple(score), synthetic=synthetic(study), device=device_lines(session), worth=worth_lines(session),
        people="On the people at hand, on whom settings may have been chosen" if view.worth is None
        else "On the people it was tuned on", warnings=tuple(map(in_line, view.warnings)))


def worth_lines(session: Session) -> tuple[str, ...]:
    """What the current settings are worth: on people left out first, on sealed ones, whom they were tuned on."""
    study = session.study
    sealed = worth.sealed_said(study, study.settings, study.front_end)
    return (*worth.lines(session.worth(), sealed), *filter(None, [sealed_set.opened_sentence(study)]))


def params_json(session: Session) -> str:
    """The header's numbers for programs, with whom they were tuned on and what they are worth. It can be read as a
    settings file. The same study gives the same text."""
    study, scored = session.study, bool(session.library)
    rule = rule_of(study.settings, study.front_end)
    recordings, labels = session.digests()
    key, licence = SPDX.split(": ")
    plain = {
        key: licence,
        **settings_plain(study.settings, study.front_end, record_of(study)),
        "identity_crc32": f"0x{identity(rule, study.front_end):08X}", "integers": asdict(rule),
        "recordings_sha256": recordings, "labels_sha256": labels, "synthetic": synthetic(study),
        "tuned": worth.plain(session.worth()),
        "score": score_json.figures_plain(session) if scored else None,
        "sealed": sealed_set.plain(study),
        "sealed_openings_of_these_settings": sum(1 for _ in worth.openings_of(study, study.settings, study.front_end)),
        "warnings": standing_warnings.plain(session.warnings()) if scored else [],
        "caution": score_json.CAUTION,
    }
    return json.dumps(plain, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def synthetic(study: Study) -> bool:
    return "synthetic" in study.notes.lower()


def header(session: Session) -> str:
    """plumbfall_params.h of the current settings."""
    return write_header(session.study.settings, session.study.front_end, provenance(session))


def exporting(session: Session, folder: Path) -> Callable[[Progress, Cancelled], list[Path]]:
    """The writing of the folder, for the study as it is now: to be run on another thread. The first one works out the
    vectors, which takes a second; from the first file on it is written whole. Raises Problem where a file can't be
    written, Stopped."""
    study, origin, beside = session.study, provenance(session), params_json(session).encode()

    def write(progress: Progress, cancelled: Cancelled) -> list[Path]:
        files = write_export(study.settings, study.front_end, origin, study.device, beside)
        if cancelled():
            raise Stopped
        return write_folder(folder, files, progress)

    return write


def export(session: Session, folder: Path) -> list[Path]:
    """Write the folder. Raises Problem where a file can't be written."""
    return exporting(session, folder)(lambda share: None, lambda: False)


def check(folder: Path, session: Session | None) -> CheckReport:
    """Build an exported folder, run its vectors, and send a study's recordings through its C.

    The study is scored under the folder's own settings: what is compared is the code, not the choice of numbers.
    """
    if session is None:
        return check_folder(folder)
    chosen = settings_from(folder / NAME, session.study.front_end)
    apart = tuple(_apart(session, chosen, (folder / NAME).read_text("utf-8-sig")))
    session.adopt(chosen)
    return replace(check_folder(folder, _recordings(session)), study=apart)


def _apart(session: Session, chosen: Chosen, header: str) -> Iterator[str]:
    """Where a study is not what a folder was exported from, in sentences."""
    study = session.study
    if study.front_end != chosen.front_end:
        yield f"The study's sensor is {sensor(study.front_end)}; the folder's is {sensor(chosen.front_end)}."
    for key, value in study.settings.items():
        if value != chosen.settings[key]:
            yield f"{key}: {value_spoken(key, value)} in the study, {value_spoken(key, chosen.settings[key])} in the " \
                  "folder."
    own, read = provenance(session), read_header(header)
    for what, mine, its in (("recordings", own.recordings_sha256, read.recordings_sha256),
                            ("labels", own.labels_sha256, read.labels_sha256)):
        if mine != its:
            yield f"The {what} that the folder's settings were scored on are not the study's of today."


def _recordings(session: Session) -> Iterator[CountsRecording]:
    """The study's recordings with their attempts, each scored when it is asked for: a folder may be refused before."""
    for item in session.study.items:
        explained = session.explained(item.name)
        if explained is not None:
            yield CountsRecording(item.name, explained.seen.stretches(), explained.attempts)
