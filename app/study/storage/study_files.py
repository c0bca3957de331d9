"""A study to and from its file, the demo study, and settings from a file: a settings file, another study or an exported
header.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any, cast

from app.study.sealed.sealed_set import parted
from app.study.state import USUAL_LOSS_LIMIT, Item, KeptSettings, Study, Widening
from data.demo import NOTES, STUDY_NAME
from data.files import content_of
from data.plain_values import Fields, Setting, Where, is_finite, where_text
from data.problem import Problem, os_refusals
from data.recipe.sections import FrontEndSection as PlainFrontEnd
from data.study import study_file, tuned_record
from data.study.study_file import Mark, RecordingEntry, StudyFile
from data.study.tuned_record import TunedRecord
from detect.device.quantities import Plain
from detect.device.quantity_table import RETIRED, device_values
from detect.firmware.header.lines import HeaderRefused
from detect.firmware.header.reader import looks_like_header, read_header
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import BadSetting, Settings, from_plain

MARK = "mark"
SIDES = ("A", "B")
KEPT = "kept: "
"""Names of marks: of the last export; of the side that is not current; of settings kept under a note."""
COUNTS = ("tp", "fn", "fp", "tn")
FOUND = "found_by_search"
"""In a settings file: the record of the search that found them."""


@dataclass(frozen=True)
class WindowState:
    """Where the window was left: saved with the study, no step of its history, and no reason to call it edited.

    The recording shown, the playhead and the window in time, seconds of the recording's clock, and the filter.
    """

    recording: str = ""
    playhead_s: float = 0.0
    from_s: float | None = None
    to_s: float | None = None
    filter: str = ""

    def plain(self) -> dict[str, Setting]:
        said: dict[str, Setting] = {"recording": self.recording, "playhead_s": self.playhead_s, "filter": self.filter}
        if self.from_s is not None and self.to_s is not None:
            said |= {"from_s": self.from_s, "to_s": self.to_s}
        return said if self.recording or self.filter else {}


def window_state_from(plain: Mapping[str, Setting]) -> WindowState:
    """What of it makes sense: a view is never worth refusing a study for."""
    def number(key: str) -> float | None:
        value = plain.get(key)
        return float(value) if is_finite(value) else None

    def text(key: str) -> str:
        value = plain.get(key)
        return value if isinstance(value, str) else ""

    start, end = number("from_s"), number("to_s")
    ordered = start is not None and end is not None and start < end
    return WindowState(text("recording"), number("playhead_s") or 0.0, start if ordered else None,
                       end if ordered else None, text("filter"))


def to_file(study: Study, left: WindowState = WindowState()) -> StudyFile:
    """What is saved of a study."""
    return StudyFile(
        front_end=plain_front_end(study.front_end),
        settings=study.settings.plain(),
        score={"before_s": study.widening.before_s, "after_s": study.widening.after_s,
               **({} if study.annotator is None else {"annotator": study.annotator}),
               **({"node": study.node} if study.node else {})},
        marks=tuple(_marks(study)),
        sealed=study.sealed,
        recordings=tuple(_entry(item) for item in (*study.items, *study.under_seal)),
        notes=study.notes,
        device=study.device.given,
        seal=study.seal,
        view=left.plain(),
        tuned=study.tuned,
        intended_use=study.intended_use,
        parts=study.parts,
        capture={} if study.loss_limit == USUAL_LOSS_LIMIT else {"loss_limit": study.loss_limit},
    )


def from_file(saved: StudyFile, title: str) -> Study:
    """The study that a file holds. Raises Problem where its settings are none that the rule can run with."""
    try:
        settings, _ = from_plain(saved.settings)
        front_end = FrontEnd() if saved.front_end is None else full_front_end(saved.front_end)
        rule_of(settings, front_end)
        device = device_values({key: cast(Plain, value) for key, value in saved.device.items() if key not in RETIRED})
        for one in saved.tuned:
            rule_of(from_plain(one.settings)[0], full_front_end(one.front_end))
        marks = {one.name: from_plain(one.settings)[0] for one in saved.marks}
        kept = tuple(_kept(one, front_end) for one in saved.marks if one.name.startswith(KEPT))
    except BadSetting as refused:
        raise _not_for_the_rule(refused, title) from refused
    other = next((side for side in SIDES if side in marks), "B")
    side = "A" if other == "B" else "B"
    return parted(Study(title, tuple(_item(entry) for entry in saved.recordings), front_end, settings,
                        _widening(saved), marks.get(MARK), saved.notes, side, marks.get(other), kept,
                        _annotator(saved), str(saved.score.get("node", "")), saved.sealed, device, seal=saved.seal,
                        tuned=saved.tuned, intended_use=saved.intended_use, parts=saved.parts,
                        loss_limit=_loss_limit(saved)))


def _not_for_the_rule(refused: BadSetting, file: str) -> Problem:
    return Problem("setting", f"{refused.key} = {refused.value!r} {refused.message}", refused.remedy, file=file,
                   column=refused.key, value=str(refused.value))


def _marks(study: Study) -> Iterator[Mark]:
    if study.mark is not None:
        yield Mark(MARK, study.mark.plain())
    if study.other is not None:
        yield Mark(study.other_side, study.other.plain())
    for one in study.kept:
        yield Mark(KEPT + one.note, one.settings.plain(), plain_front_end(one.front_end),
                   dict(zip(COUNTS, one.counts, strict=True)))


def _kept(mark: Mark, front_end: FrontEnd) -> KeptSettings:
    tp, fn, fp, tn = (int(mark.score.get(name, 0)) for name in COUNTS)
    return KeptSettings(mark.name.removeprefix(KEPT), from_plain(mark.settings)[0],
                front_end if mark.front_end is None else full_front_end(mark.front_end), (tp, fn, fp, tn))


def save(study: Study, path: Path, left: WindowState = WindowState(), base: str = "") -> None:
    """`base`: for a recovery copy, the digest of the file whose changes these are. Raises Problem where the place can't
    be written."""
    study_file.save(replace(to_file(study, left), base=base), path)


def load(path: Path) -> Study:
    return opened(path)[0]


def opened(path: Path) -> tuple[Study, WindowState]:
    """A study and where it was left. Raises Problem."""
    saved = study_file.load(path)
    return from_file(saved, path.stem), window_state_from(saved.view)


def keep(study: Study, left: WindowState, path: Path) -> None:
    """Note in an unedited study's file where it was left, if the file still holds just this study.

    What can't be written is let be: nothing of the study is lost.
    """
    with suppress(Problem):
        saved = study_file.load(path)
        ours = to_file(study, left)
        if saved.view != ours.view and replace(saved, view=ours.view) == ours:
            study_file.save(ours, path)


def plain_front_end(front_end: FrontEnd) -> PlainFrontEnd:
    return PlainFrontEnd(**asdict(front_end))


def full_front_end(plain: PlainFrontEnd) -> FrontEnd:
    return FrontEnd(**asdict(plain))


def _loss_limit(saved: StudyFile) -> float:
    value = saved.capture.get("loss_limit")
    return value if is_finite(value) and 0 <= value <= 1 else USUAL_LOSS_LIMIT


def _widening(saved: StudyFile) -> Widening:
    chosen = Widening()
    for key in ("before_s", "after_s"):
        value = saved.score.get(key)
        if is_finite(value) and value >= 0:
            chosen = replace(chosen, **{key: float(value)})
    return chosen


def _annotator(saved: StudyFile) -> str | None:
    chosen = saved.score.get("annotator")
    return chosen if isinstance(chosen, str) else None


def _entry(item: Item) -> RecordingEntry:
    return RecordingEntry(**{one.name: getattr(item, one.name) for one in fields(RecordingEntry)})


def _item(entry: RecordingEntry) -> Item:
    return Item(**{one.name: getattr(entry, one.name) for one in fields(RecordingEntry)})


def is_demo(study: Study) -> bool:
    """Whether it is the synthetic demo, saved elsewhere or not."""
    return bool(study.items) and study.notes == NOTES


def write(folder: Path, progress: Callable[[float], None] | None = None) -> Path:
    """Write the demo into a folder; the path of its study."""
    from data.demo.write import write_demo  # the generator, which only the very first start needs

    write_demo(folder, progress)
    return folder / STUDY_NAME


def ready(folder: Path, progress: Callable[[float], None] | None = None) -> Path:
    """The demo's study in this folder, written if it is not there yet."""
    study = folder / STUDY_NAME
    return study if study.exists() else write(folder, progress)


@dataclass(frozen=True)
class Chosen:
    """Settings with the front end they are for, what was noticed while reading them, and what the search that found
    them said of them."""

    settings: Settings
    front_end: FrontEnd
    remarks: tuple[str, ...] = ()
    tuned: TunedRecord | None = None


def settings_from(path: Path, front_end: FrontEnd) -> Chosen:
    """Settings of a file; `front_end` is used where it names none. Raises Problem."""
    try:
        with os_refusals(path.name, "read"):
            text = content_of(path).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Problem("settings", "This is not UTF-8 text.", "Name a settings file, a study or a header.",
                      file=path.name) from error
    if looks_like_header(text):
        return from_header(text, path.name)
    try:
        plain = json.loads(text)
    except json.JSONDecodeError as error:
        raise Problem("settings", f"This is not JSON: {error.msg}.", "Correct the line.", file=path.name,
                      line=error.lineno) from error
    except (ValueError, RecursionError) as error:  # a number of thousands of digits, tables within tables
        raise Problem("settings", "This is not a table of settings: a number or its nesting is beyond all measure.",
                      "Name a settings file, a study or a header.", file=path.name) from error
    if not isinstance(plain, dict):
        raise Problem("settings", "This is not a table of settings.",
                      'Write {"front_end": {…}, "settings": {key: value}}.', file=path.name)
    if "plumbfall_study" in plain:
        study = load(path)
        return Chosen(study.settings, study.front_end, tuned=record_of(study))
    return from_settings_file(plain, path.name, front_end)


def from_settings_file(plain: dict, file: str, front_end: FrontEnd) -> Chosen:
    """{"front_end": {…}, "settings": {key: physical value}}; what `plumbfall score --json` prints can be fed back."""
    if not isinstance(plain.get("settings"), dict):
        raise Problem("settings", 'The file has no "settings" table.',
                      'Write {"front_end": {…}, "settings": {key: value}}.', file=file)
    values = plain["settings"]
    if isinstance(values.get("physical"), dict):
        values = values["physical"]
    try:
        settings, missing = from_plain(values)
        if isinstance(plain.get("front_end"), dict):
            front_end = _front_end(plain["front_end"], front_end)
        rule_of(settings, front_end)
    except BadSetting as refused:
        raise _not_for_the_rule(refused, file) from refused
    tuned = _record_in(plain, file)
    remarks = (f"{file}: not given, default used: {', '.join(missing)}.",) if missing else ()
    return Chosen(settings, front_end, remarks, tuned)


def _record_in(plain: dict, file: str) -> TunedRecord | None:
    """What a settings file that a search wrote says of them. Raises Problem."""
    if not isinstance(plain.get(FOUND), dict):
        return None

    def fail(where: Where, message: str, remedy: str) -> Problem:
        return Problem("settings", message, remedy, file=file, column=where_text((FOUND, *where)))

    return tuned_record.from_plain(Fields(plain[FOUND], (), fail))


def record_of(study: Study) -> TunedRecord | None:
    """Of the search that found just the study's settings, to go out of the study: nobody sealed is named in it."""
    found = next((one for one in reversed(study.tuned) if from_plain(one.settings)[0] == study.settings
                  and full_front_end(one.front_end) == study.front_end), None)
    if found is None or not study.sealed:
        return found
    return replace(found, people=tuple(replace(one, person="") if one.person in study.sealed else one
                                       for one in found.people))


def settings_plain(settings: Settings, front_end: FrontEnd, record: TunedRecord | None = None) -> dict[str, Any]:
    """What a settings file holds."""
    plain: dict[str, Any] = {"front_end": front_end.plain(), "settings": settings.plain()}
    return plain if record is None else plain | {FOUND: tuned_record.to_plain(record)}


def _front_end(plain: dict, otherwise: FrontEnd) -> FrontEnd:
    known = {one.name for one in fields(FrontEnd)}
    for key, value in plain.items():
        if key not in known:
            raise BadSetting(key, value, "is not a key of front_end.", f"Known: {', '.join(sorted(known))}.")
    return FrontEnd(plain.get("range_g", otherwise.range_g), plain.get("bits", otherwise.bits),
                    plain.get("rate_hz", otherwise.rate_hz), plain.get("counts_per_g"), plain.get("lowest_counts"),
                    plain.get("highest_counts"))


MOST_TOLD = 8
"""More refused lines of a header than these are only counted."""


def from_header(text: str, file: str) -> Chosen:
    """Settings of an exported header, hand-edited or not. Raises Problem with every refused line."""
    try:
        found = read_header(text)
    except HeaderRefused as refused:
        first, *others = refused.problems
        message = f"{first.value} {first.message}"
        also = [f"Also {other}" for other in others[:MOST_TOLD]]
        also += [f"And {len(others) - MOST_TOLD} more."] if len(others) > MOST_TOLD else []
        remedy = " ".join([first.remedy, *also])
        raise Problem("header", message, remedy, file=file, line=first.line, value=first.value) from refused
    return Chosen(found.settings, found.front_end, tuple(f"{file}, {remark}" for remark in found.remarks))
