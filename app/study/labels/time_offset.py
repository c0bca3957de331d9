"""The clock that labels came by against a recording's own, and a node's against the others': moved by hand or set."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from app.study import actions
from app.study.recordings.device_signal import as_worn, per_g
from app.study.recordings.nodes import groups
from app.study.state import Item, Study
from data.labels.checks import LabelledRecording, TimeOffsetProposal, time_offset_proposals
from data.problem import Problem
from data.recordings.model import Recording, Shift
from detect.rule.timeline import Timeline

MOST_DRIFT_PPM = 20_000.0
"""No drag goes beyond: two per cent, a wrong rate rather than a clock."""

QUARTZ_PPM = 500.0
"""Two quartz clocks differ by less (common practice, no source): more is told."""

_MS = 3


def siblings(study: Study, name: str) -> tuple[Item, ...]:
    """The nodes of a recording, itself among them; itself alone where it is one node."""
    item = study.item(name)
    if item is None:
        return ()
    return tuple(groups(study.items).get(item.group, (item,))) if item.group else (item,)


def set_for_recording(study: Study, name: str, clock: Shift) -> Study:
    """Another clock of the labels: those of all nodes move, and the nodes' clocks stay as they are to each other."""
    item = study.item(name)
    if item is None:
        return study
    for other in siblings(study, name):
        between = other.clock.after(item.clock.inverse())
        new = clock if other.clock == item.clock else between.after(clock)
        study = actions.set_clock(study, [other.name], new)
    return study


def dragged(item: Item, line: Timeline, by_s: float) -> Shift:
    """The clock after all labels of a recording were moved by so many seconds, to the millisecond; those that lie in
    the recording stay in it."""
    times = [(one.onset_s, one.end_s) for one in item.labels if one.onset_s is not None and one.end_s is not None]
    if not times:
        raise Problem("label_clock", "Labels of a whole recording have no times to shift.",
                      "Shift a label that has an onset and an end.")
    first, last = min(start for start, _ in times), max(end for _, end in times)
    least, most = min(line.seconds(0) - first, 0.0), max(line.seconds(line.count - 1) - last, 0.0)
    return replace(item.clock, offset_s=round(item.clock.offset_s + min(max(by_s, least), most), _MS))


def stretched(item: Item, at: int, from_s: float, to_s: float) -> Shift:
    """The clock after a label was drawn from one time to another while the first one stays where it is; where it is the
    first that is drawn, the last one stays. Raises Problem where there are no two."""
    onsets = sorted((one.onset_s, i) for i, one in enumerate(item.labels) if one.onset_s is not None)
    if len(onsets) < 2:
        raise Problem("label_clock", "A drift needs two labels with times: one that stays and one that is dragged.",
                      "Move the label alone, or all of them with Shift.")
    anchor = onsets[-1][0] if onsets[0][1] == at else onsets[0][0]
    if abs(from_s - anchor) < 1e-3:
        raise Problem("label_clock", "The dragged label coincides with the one that stays.", "Drag another one.")
    factor = max((to_s - anchor) / (from_s - anchor), 1e-3)
    turn = Shift(anchor * (1 - factor), (factor - 1) * 1e6)
    new = turn.after(item.clock)
    if abs(new.drift_ppm) <= MOST_DRIFT_PPM:
        return Shift(round(new.offset_s, 6), round(new.drift_ppm, 1))
    drift = MOST_DRIFT_PPM if new.drift_ppm > 0 else -MOST_DRIFT_PPM
    factor = (1 + drift / 1e6) / (1 + item.clock.drift_ppm / 1e6)
    return Shift(anchor * (1 - factor), (factor - 1) * 1e6).after(item.clock)


def proposed(study: Study, library: Mapping[str, Recording], name: str) -> TimeOffsetProposal | None:
    """The clock that would put a recording's falls on its impacts, where one clearly does; never taken by itself."""
    item, recording = study.item(name), library.get(name)
    if item is None or recording is None:
        return None
    found = time_offset_proposals([LabelledRecording(as_worn(item, recording), item.labels,
                                                     per_g(item, recording, study.front_end))])
    return found[0] if found else None


def in_words(clock: Shift) -> str:
    """"label time offset +0.350 s, +12 ppm"; empty where it is the recording's own."""
    if clock == Shift():
        return ""
    drift = f", {clock.drift_ppm:+.0f} ppm" if round(clock.drift_ppm) else ""
    return f"label time offset {clock.offset_s:+.3f} s{drift}".replace("-", "\u2212")


def told(item: Item, clock: Shift) -> str:
    """What became of a recording's labels, and that it can be taken back."""
    strange = ""
    if abs(clock.drift_ppm) > QUARTZ_PPM:
        strange = f" Two quartz clocks differ by less than {QUARTZ_PPM:.0f} ppm."
    said = in_words(clock) or "no label time offset"
    return f"All labels of {item.group or item.name} shifted: {said}.{strange} Undo reverts it."
