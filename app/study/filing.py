"""A study to and from its file: data's plain values on one side, detect's settings and front end on the other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import cast

from app.study.sealing import parted
from app.study.state import Item, Kept, Study, Widening
from data import study_file
from data.problem import Problem
from data.recipe import FrontEnd as PlainFrontEnd
from data.study_file import Mark, RecordingEntry, StudyFile
from detect.device.table import device_values
from detect.device.values import Plain
from detect.frontend import FrontEnd
from detect.rule import rule_of
from detect.settings import BadSetting, from_plain

MARK = "mark"
SIDES = ("A", "B")
KEPT = "kept: "
"""Names of marks: of the last export; of the side that is not in hand; of settings kept under a note."""
COUNTS = ("tp", "fn", "fp", "tn")


def to_file(study: Study) -> StudyFile:
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
    )


def from_file(saved: StudyFile, title: str) -> Study:
    """The study that a file holds. Raises Problem where its settings are none that the rule can run with."""
    try:
        settings, _ = from_plain(saved.settings)
        front_end = FrontEnd() if saved.front_end is None else full_front_end(saved.front_end)
        rule_of(settings, front_end)
        device = device_values(cast(Mapping[str, Plain], saved.device))
        marks = {one.name: from_plain(one.settings)[0] for one in saved.marks}
        kept = tuple(_kept(one, front_end) for one in saved.marks if one.name.startswith(KEPT))
    except BadSetting as refused:
        raise Problem("setting", f"{refused.key} = {refused.value!r} {refused.message}", refused.remedy,
                      file=title, column=refused.key, value=str(refused.value)) from refused
    other = next((side for side in SIDES if side in marks), "B")
    side = "A" if other == "B" else "B"
    return parted(Study(title, tuple(_item(entry) for entry in saved.recordings), front_end, settings,
                        _widening(saved), marks.get(MARK), saved.notes, side, marks.get(other), kept,
                        _annotator(saved), str(saved.score.get("node", "")), saved.sealed, device, seal=saved.seal))


def _marks(study: Study) -> Iterator[Mark]:
    if study.mark is not None:
        yield Mark(MARK, study.mark.plain())
    if study.other is not None:
        yield Mark(study.other_side, study.other.plain())
    for one in study.kept:
        yield Mark(KEPT + one.note, one.settings.plain(), plain_front_end(one.front_end),
                   dict(zip(COUNTS, one.counts, strict=True)))


def _kept(mark: Mark, front_end: FrontEnd) -> Kept:
    tp, fn, fp, tn = (int(mark.score.get(name, 0)) for name in COUNTS)
    return Kept(mark.name.removeprefix(KEPT), from_plain(mark.settings)[0],
                front_end if mark.front_end is None else full_front_end(mark.front_end), (tp, fn, fp, tn))


def save(study: Study, path: Path) -> None:
    study_file.save(to_file(study), path)


def load(path: Path) -> Study:
    return from_file(study_file.load(path), path.stem)


def retitled(study: Study, title: str) -> Study:
    return replace(study, title=title)


def plain_front_end(front_end: FrontEnd) -> PlainFrontEnd:
    return PlainFrontEnd(front_end.range_g, front_end.bits, front_end.rate_hz, front_end.counts_per_g)


def full_front_end(plain: PlainFrontEnd) -> FrontEnd:
    return FrontEnd(plain.range_g, plain.bits, plain.rate_hz, plain.counts_per_g)


def _widening(saved: StudyFile) -> Widening:
    chosen = Widening()
    for key in ("before_s", "after_s"):
        value = saved.score.get(key)
        if isinstance(value, int | float) and not isinstance(value, bool) and value >= 0:
            chosen = replace(chosen, **{key: float(value)})
    return chosen


def _annotator(saved: StudyFile) -> str | None:
    chosen = saved.score.get("annotator")
    return chosen if isinstance(chosen, str) else None


def _entry(item: Item) -> RecordingEntry:
    return RecordingEntry(item.name, item.path, item.sha256, item.about, item.labels, item.left_out, item.recipe,
                          item.rate_hz, item.trim, item.more, item.group, item.clock, item.calibration, item.axes)


def _item(entry: RecordingEntry) -> Item:
    return Item(entry.name, entry.path, entry.sha256, entry.about, entry.labels, entry.left_out,
                recipe=entry.recipe, rate_hz=entry.rate_hz, trim=entry.trim, more=entry.more,
                group=entry.group, clock=entry.clock, calibration=entry.calibration, axes=entry.axes)
