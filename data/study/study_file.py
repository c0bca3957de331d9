"""The study on the disk: one JSON file of plain values. What they mean to the rule is not known here."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

from data.files import content_of, opened, write_atomically
from data.parts import part_file
from data.parts.part_file import PartFile
from data.plain_values import Fields, Setting, Where, line_of, where_text
from data.problem import Problem, from_os_error
from data.recipe.parser import about_from, axes_from, front_end_from
from data.recipe.recipe import Recipe, axes_to_plain, recipe_from, recipe_to_plain
from data.recipe.sections import Axes, FrontEndSection
from data.recordings.model import About, Calibration, Label, Shift, Trim
from data.study import intended_use, tuned_record
from data.study.intended_use import IntendedUse
from data.study.seal_record import SealRecord, from_older
from data.study.seal_record import from_plain as seal_from
from data.study.seal_record import to_plain as seal_to_plain
from data.study.tuned_record import TunedRecord

VERSION = 6
"""Of the layout. Raise it when an older program could no longer understand the file. 2: annotators and trimmed ends.
3: the device's numbers, the record of the sealed set. 4: that record names the recordings, what searches found,
the intended use. 5: sensor parts of one's own. 6: how a search, or an opening of the seal, was scored; the
limit of lost samples."""

WITH_SEAL = 3
"""The layout from which on whoever is sealed stands in a record."""


@dataclass(frozen=True)
class RecordingEntry:
    """Where a recording is and what the study says about it.

    `path`: absolute in memory; in the file relative to the file's own folder, so that both can move together.
    `labels`: the study's own; tables were only read into it. `left_out`: the reason, empty where it counts.
    `recipe`: how the file was read, complete, so that it reads the same again.
    `rate_hz`: the nominal rate that a person decided on where the stamps left it open.
    `trim`: what is left off at either end. `more`: files that continue the first. `group`: what the nodes of one
    recording have in common. `clock`: the clock that labels came by, against the recording's own. `calibration`: of
    its node. `axes`: its sensor's orientation, where that was said after it was read.
    """

    name: str
    path: str
    sha256: str
    about: About = field(default_factory=About)
    labels: tuple[Label, ...] = ()
    left_out: str = ""
    recipe: Recipe = field(default_factory=Recipe)
    rate_hz: float | None = None
    trim: Trim = field(default_factory=Trim)
    more: tuple[str, ...] = ()
    group: str = ""
    clock: Shift = field(default_factory=Shift)
    calibration: Calibration | None = None
    axes: Axes | None = None


@dataclass(frozen=True)
class Mark:
    """Settings that were set aside under a name, with the front end they were for and a digest of their score."""

    name: str
    settings: Mapping[str, Setting]
    front_end: FrontEndSection | None = None
    score: Mapping[str, int | float] = field(default_factory=dict)


@dataclass(frozen=True)
class StudyFile:
    """Everything that is saved together.

    `settings`: by the keys of the rule's table; `score`: the options of scoring; `view`: where the window was left;
    `sealed`: people that nobody tunes on, `seal`: the record of that; `device`: those of the device's numbers that were
    changed, by their keys; `tuned`: what searches found whose settings were used, the latest last. `parts`:
    sensor parts to compare, each under a name of its own. `capture`: of recording, what is not as usual. `base`: of a
    recovery copy, the SHA-256 of the file whose unsaved changes it holds.
    """

    front_end: FrontEndSection | None = None
    settings: Mapping[str, Setting] = field(default_factory=dict)
    score: Mapping[str, Setting] = field(default_factory=dict)
    marks: tuple[Mark, ...] = ()
    sealed: tuple[str, ...] = ()
    recordings: tuple[RecordingEntry, ...] = ()
    view: Mapping[str, Setting] = field(default_factory=dict)
    notes: str = ""
    device: Mapping[str, Setting] = field(default_factory=dict)
    seal: SealRecord = field(default_factory=SealRecord)
    base: str = ""
    tuned: tuple[TunedRecord, ...] = ()
    intended_use: IntendedUse = field(default_factory=IntendedUse)
    parts: tuple[PartFile, ...] = ()
    capture: Mapping[str, Setting] = field(default_factory=dict)


def save(study: StudyFile, path: Path) -> None:
    """Write the study, whole or not at all. Raises Problem where the place can't be written."""
    write_atomically(path, to_json(study, Path(os.path.abspath(path)).parent))


def load(path: Path) -> StudyFile:
    """Read a study. Raises Problem, with the line, where it is cut short, edited into nonsense or too new."""
    try:
        raw = content_of(path)
    except OSError as error:
        raise from_os_error(error, path.name, "read") from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise _broken(path.name, line, "There are bytes that are not UTF-8 text.") from error
    return from_json(text, Path(os.path.abspath(path)).parent, path.name)


def digest_of(path: Path) -> str:
    """SHA-256 of a study's file as it lies there; empty where there is none, or it can't be read."""
    try:
        with opened(path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""


def recovery_path(path: Path | None, state_folder: Path) -> Path:
    """Where unsaved changes are kept: beside the study, or in the state folder for one that was never saved."""
    return state_folder / "unsaved.recovery" if path is None else path.with_name(path.name + ".recovery")


def _front_end_to_plain(front_end: FrontEndSection | None) -> dict[str, object] | None:
    """Last readings only where they are given: an earlier version knows no such keys."""
    if front_end is None:
        return None
    return {key: value for key, value in asdict(front_end).items()
            if value is not None or key not in ("lowest_counts", "highest_counts")}


def to_json(study: StudyFile, folder: Path) -> str:
    """The file's text, one recording a line; paths relative to `folder`."""
    recipes: list[dict[str, object]] = []
    numbers: dict[Recipe, int] = {}
    for entry in study.recordings:
        if entry.recipe not in numbers:
            recipe = recipe_to_plain(entry.recipe)
            if recipe not in recipes:
                recipes.append(recipe)
            numbers[entry.recipe] = recipes.index(recipe)
    rows = [_entry_to_plain(entry, folder, numbers[entry.recipe]) for entry in study.recordings]
    top: dict[str, object] = {
        "plumbfall_study": VERSION,
        "notes": study.notes,
        "front_end": _front_end_to_plain(study.front_end),
        "settings": dict(study.settings),
        "score": dict(study.score),
        "marks": [{**asdict(mark), "settings": dict(mark.settings), "front_end": _front_end_to_plain(mark.front_end),
                   "score": dict(mark.score)} for mark in study.marks],
        "sealed": list(study.sealed),
        "seal": seal_to_plain(study.seal),
        "view": dict(study.view),
        "device": dict(study.device),
        "tuned": [tuned_record.to_plain(one) for one in study.tuned],
        "intended_use": intended_use.to_plain(study.intended_use),
        "parts": [part_file.to_plain(one) for one in study.parts],
        **({"capture": dict(study.capture)} if study.capture else {}),
        **({"base": study.base} if study.base else {}),
    }
    parts = [f"{_compact(key)}: {_compact(value)}" for key, value in top.items()]
    for key, values in (("recipes", recipes), ("recordings", rows)):
        lines = ",\n  ".join(_compact(value) for value in values)
        parts.append(f"{_compact(key)}: [\n  {lines}\n ]")
    return "{\n " + ",\n ".join(parts) + "\n}\n"


_HALF = re.compile("[\ud800-\udfff]")


def _compact(value: object) -> str:
    text = json.dumps(value, ensure_ascii=False, allow_nan=False)
    # A path that isn't UTF-8 holds halves of characters; JSON's escapes bring them back as they were.
    return json.dumps(value, allow_nan=False) if _HALF.search(text) else text


def _entry_to_plain(entry: RecordingEntry, folder: Path, recipe: int) -> dict[str, object]:
    return {
        "name": entry.name,
        "path": _relative(entry.path, folder),
        "sha256": entry.sha256,
        "about": entry.about.plain(),
        "labels": [label.plain() for label in entry.labels],
        "left_out": entry.left_out,
        "recipe": recipe,
        "rate_hz": entry.rate_hz,
        "trim": {key: value for key, value in vars(entry.trim).items() if value},
        **_said(entry, folder),
    }


def _said(entry: RecordingEntry, folder: Path) -> dict[str, object]:
    """What few recordings have, only where they do."""
    said: dict[str, object] = {
        "more": [_relative(path, folder) for path in entry.more],
        "group": entry.group,
        "clock": {key: value for key, value in vars(entry.clock).items() if value},
        "calibration": asdict(entry.calibration) if entry.calibration else None,
    }
    said = {key: value for key, value in said.items() if value}
    # Axes as the sensor has them are said with no word, and yet are said.
    return said if entry.axes is None else said | {"axes": axes_to_plain(entry.axes)}


def _relative(path: str, folder: Path) -> str:
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:  # on another drive
        return path


def from_json(text: str, folder: Path, file: str = "") -> StudyFile:
    """The study in a text; `folder` is where it lies, `file` names it in problems."""
    plain = _parsed(text, file)

    def fail(where: Where, message: str, remedy: str) -> Problem:
        return Problem("study_broken", message, remedy, file=file, line=line_of(text, where), column=where_text(where))

    _check_version(plain, file)
    return _study(Fields(plain, (), fail), folder)


def _parsed(text: str, file: str) -> object:
    def refuse(constant: str) -> object:
        raise ValueError(f"{constant} is not a number that a study can hold.")

    def once(pairs: list[tuple[str, object]]) -> dict[str, object]:
        table = dict(pairs)
        if len(table) < len(pairs):
            keys = [key for key, _ in pairs]
            twice = next(key for key in keys if keys.count(key) > 1)
            raise ValueError(f'"{twice}" is given twice in one table.')
        return table

    try:
        return json.loads(text, parse_constant=refuse, object_pairs_hook=once)
    except json.JSONDecodeError as error:
        cut = error.pos >= len(text.rstrip())
        said = "The file ends in the middle: it was cut short." if cut else f"This is not JSON: {error.msg}."
        raise _broken(file, error.lineno, said) from error
    except ValueError as error:
        raise _broken(file, None, str(error)) from error
    except RecursionError as error:
        raise _broken(file, None, "Tables are nested too deeply for a study.") from error


def _broken(file: str, line: int | None, message: str) -> Problem:
    remedy = "Correct the line by hand, or open the recovery copy or an older copy of the study."
    return Problem("study_broken", message, remedy, file=file, line=line)


def _check_version(plain: object, file: str) -> None:
    version = plain.get("plumbfall_study") if isinstance(plain, dict) else None
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        message = "This is not a study: it doesn't begin with a plumbfall_study version."
        raise Problem("not_a_study", message, "Choose a file that was saved as a study.", file=file)
    if version > VERSION:
        message = f"This study was saved by a newer version of the program (layout {version}; known up to {VERSION})."
        remedy = "Update the program, or save the study from the newer one in an older layout."
        raise Problem("study_newer", message, remedy, file=file)


def _study(top: Fields, folder: Path) -> StudyFile:
    layout, sealed = top.whole("plumbfall_study"), top.texts("sealed")
    recipes = [recipe_from(part) for part in top.tables("recipes")]
    study = StudyFile(
        front_end=None if top.raw("front_end") is None else front_end_from(top.table("front_end")),
        settings=_settings(top.table("settings")),
        score=_settings(top.table("score")),
        marks=tuple(_mark(part) for part in top.tables("marks")),
        sealed=sealed,
        recordings=_entries(top, folder, recipes),
        view=_settings(top.table("view")),
        notes=top.text("notes"),
        device=_settings(top.table("device")),
        seal=seal_from(top.table("seal")) if "seal" in top or layout >= WITH_SEAL else from_older(sealed),
        base=top.text("base"),
        tuned=tuple(tuned_record.from_plain(part) for part in top.tables("tuned")),
        intended_use=intended_use.from_plain(top.table("intended_use")),
        parts=part_file.from_tables(top.tables("parts")),
        capture=_settings(top.table("capture")),
    )
    top.done()
    return study


def _entries(top: Fields, folder: Path, recipes: list[Recipe]) -> tuple[RecordingEntry, ...]:
    """Every recording has a name of its own: two of one name would count twice, and labels go by it."""
    found: dict[str, RecordingEntry] = {}
    for part in top.tables("recordings"):
        entry = _entry(part, folder, recipes)
        if entry.name in found:
            raise part.fault("name", "a name that no other recording of the study has")
        found[entry.name] = entry
    return tuple(found.values())


def _entry(part: Fields, folder: Path, recipes: list[Recipe]) -> RecordingEntry:
    chosen = part.whole("recipe")
    if not 0 <= chosen < len(recipes):
        raise part.fault("recipe", f"the number of one of the {len(recipes)} recipes")
    entry = RecordingEntry(
        name=part.text("name", None),
        path=os.path.normpath(os.path.join(folder, part.text("path", None))),
        sha256=part.text("sha256", None),
        about=about_from(part.table("about")),
        labels=tuple(_label(label) for label in part.tables("labels")),
        left_out=part.text("left_out"),
        recipe=recipes[chosen],
        rate_hz=part.maybe_number("rate_hz"),
        trim=_trim(part.table("trim")),
        more=tuple(os.path.normpath(os.path.join(folder, path)) for path in part.texts("more")),
        group=part.text("group"),
        clock=_clock(part.table("clock")),
        calibration=_calibration(part.table("calibration")) if "calibration" in part else None,
        axes=axes_from(part.table("axes")) if "axes" in part else None,
    )
    if entry.rate_hz is not None and entry.rate_hz <= 0:
        raise part.fault("rate_hz", "above 0, or null")
    part.done()
    return entry


def _clock(part: Fields) -> Shift:
    shift = Shift(part.number("offset_s", 0.0), part.number("drift_ppm", 0.0))
    if abs(shift.drift_ppm) >= 1e6:
        raise part.fault("drift_ppm", "less than a million either way")
    part.done()
    return shift


def _calibration(part: Fields) -> Calibration:
    three = {key: part.numbers(key) for key in ("offset_g", "gain")}
    for key, values in three.items():
        if len(values) != 3 or (key == "gain" and min(values) <= 0):
            raise part.fault(key, "three numbers" + (" above 0" if key == "gain" else ""))
    (ox, oy, oz), (gx, gy, gz) = three.values()
    found = Calibration(
        (ox, oy, oz), (gx, gy, gz), part.text("origin"), part.number("before_g", 0.0), part.number("after_g", 0.0),
        part.whole("stretches", 0), part.texts("lacking"),
    )
    part.done()
    return found


def _trim(part: Fields) -> Trim:
    trim = Trim(part.number("start_s", 0.0), part.number("end_s", 0.0))
    for key in ("start_s", "end_s"):
        if getattr(trim, key) < 0:
            raise part.fault(key, "0 or more")
    part.done()
    return trim


def _label(part: Fields) -> Label:
    label = Label(
        kind=part.text("kind", None, ("fall", "other")),
        name=part.text("name"),
        onset_s=part.maybe_number("onset_s"),
        end_s=part.maybe_number("end_s"),
        comment=part.text("comment"),
        annotator=part.text("annotator"),
        proposed=bool(part.flag("proposed", False)),
    )
    if (label.onset_s is None) != (label.end_s is None):
        raise part.fault("end_s", "given just where onset_s is")
    if label.onset_s is not None and label.end_s is not None and label.end_s < label.onset_s:
        raise part.fault("end_s", "no earlier than onset_s")
    part.done()
    return label


def _mark(part: Fields) -> Mark:
    mark = Mark(
        name=part.text("name"),
        settings=_settings(part.table("settings")),
        front_end=None if part.raw("front_end") is None else front_end_from(part.table("front_end")),
        score={key: part.table("score").number(key) for key in part.table("score")},
    )
    part.done()
    return mark


def _settings(part: Fields) -> dict[str, Setting]:
    return {key: part.setting(key) for key in part}
