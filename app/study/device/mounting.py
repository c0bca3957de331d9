"""The study's recordings worn otherwise: turned, off centre, on the other side; how much rotation the rule bears."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from app.formatting import MINUS
from app.study.device import turn_rate
from app.study.device.material import true_motion
from app.study.device.placement import Placements, placements
from app.study.device.turn_rate import Gyro
from app.study.pipeline import Cancelled, Made, Prepared, Progress, StudyEvents
from app.study.results.readout import percent
from app.study.state import Study
from detect.device.part import mounting as model
from detect.device.part.mounting import AXES, ELSEWHERE, SLIPS, Angle, MountedScore, RotationTolerance, Worn, flips
from detect.device.sleep.wake_settings import reading_in_free_fall
from detect.scoring.figures import figures
from detect.scoring.score import CAUGHT, FALSE_ALARM, OUTCOMES, Score


@dataclass(frozen=True)
class Flip:
    """An event that comes out otherwise. `where`: at which angle of a sweep first, or "as mounted"."""

    recording: str
    event: str
    kind: str
    was: str
    now: str
    where: str
    at_s: float
    sample: int


@dataclass(frozen=True, eq=False)
class MountingView:
    """`study`: what it was worked out for. `rows`: figure, as recorded, as mounted. `changed`: what the mounting in
    hand changes. `angles`: the sweep, empty where none was asked for; `borne`: what each axis bears; `flips`: by axis
    and degrees the events that come out otherwise there. `said`: sentences on what was and what could not be done.
    `placements`: of several places of the body, as recorded."""

    study: Study
    before: Score
    after: MountedScore | None
    rows: tuple[tuple[str, str, str], ...]
    changed: tuple[Flip, ...]
    angles: tuple[Angle, ...]
    borne: tuple[RotationTolerance, ...]
    flips: Mapping[tuple[str, float], tuple[Flip, ...]]
    said: tuple[str, ...]
    headline: str
    placements: Placements


def key_of(study: Study) -> object:
    """What a view hangs on: two studies with equal ones have the same."""
    return study.scored_by, study.device.under("mounting.", "placement.", "wake.offset_mg")


def worn(study: Study, made: Made) -> Worn:
    """What was recorded, in g at the front end's rate, and what the score hangs on."""
    found, labelled, prepared = made
    g, _ = true_motion(study, prepared)
    corpus = prepared.engine.corpus
    assert len(g) == corpus.samples
    return model.worn_of(g, corpus.stretch_first, corpus.recording_first, study.front_end, found.rule, labelled.events,
                   labelled.lending)


def mounting_view(study: Study, made: Made, gyro: Gyro | None = None, swept: bool = True,
                  executor: Executor | None = None, progress: Progress = lambda share: None,
                  cancelled: Cancelled = lambda: False) -> MountingView:
    """What the current mounting does to the score, and a sweep of angles. Raises Problem, Stopped."""
    thing, device = worn(study, made), study.device
    said = [*_of_the_mounting(study, gyro), *_of_offset(study), *_of_clipping(made[2])]
    elsewhere = device.text("mounting.placement") == ELSEWHERE
    after = None if elsewhere else model.scored(thing, _mounted(study, made[2], thing, gyro))
    found: list[Angle] = []
    kind = device.text("mounting.kind")
    if swept:
        about = device.text("mounting.sweep_about")
        wanted = model.angles(AXES if about == model.EACH else (about,), device.number("mounting.sweep_to_deg"),
                        device.number("mounting.sweep_step_deg"))
        found = model.sweep(thing, wanted, kind, executor, lambda done: progress(done / len(wanted)), cancelled)
    bears = model.rotation_tolerance(found) if found else ()
    flip = _Flips(made[1], made[2], thing)
    changed = () if after is None else flip.changed(made[0].score.outcome, after.score.outcome, "as mounted")
    rows = () if after is None else _rows(made[0].score, after.score)
    headline = _headline(study, bears, kind)
    return MountingView(study, made[0].score, after, rows, changed, tuple(found), bears, flip.of_all(found),
                        tuple(said), headline, placements(study, made))


def _mounted(study: Study, prepared: Prepared, thing: Worn, gyro: Gyro | None) -> np.ndarray:
    """The readings as mounted: swung about, mirrored, then turned."""
    device = study.device
    added = np.zeros_like(thing.g)
    arm = tuple(device.number(f"mounting.off_{axis}_m") for axis in AXES)
    turns = turn_rate.rates_of(study, prepared, thing, gyro) if any(arm) else None
    if turns is not None:
        rates, changes = turns
        ends = np.append(thing.stretch_first, len(thing.g))
        for first, stop in zip(ends[:-1].tolist(), ends[1:].tolist(), strict=True):
            change = None if changes is None else changes[first:stop]
            added[first:stop] = model.off_centre_g(rates[first:stop], (arm[0], arm[1], arm[2]),
                                                   study.front_end.rate_hz, change)
    swung = thing.g + added
    if device.text("mounting.placement") == model.OTHER_SIDE:
        swung = swung @ model.MIRRORED.T
    x, y, z = (device.number(f"mounting.turn_{axis}_deg") for axis in AXES)
    if (x, y, z) == (0, 0, 0):
        return np.asarray(swung)
    return model.turned(replace(thing, g=swung), model.rotation(x, y, z), device.text("mounting.kind"))


def _of_the_mounting(study: Study, gyro: Gyro | None) -> list[str]:
    device, found = study.device, []
    if any(device.number(f"mounting.off_{axis}_m") for axis in AXES):
        found.append(turn_rate.said(study, gyro))
    if device.text("mounting.placement") == ELSEWHERE:
        found.append(model.WHY_NOT_ELSEWHERE)
    if device.text("mounting.placement") == model.OTHER_SIDE:
        found.append("The other side is the wearer's mirror image, x forward, y up, z to the right: it says nothing of "
                     "a hand that is used differently.")
    if device.text("mounting.kind") == SLIPS:
        found.append("It slips at the highest sample of each labelled event and is put right half-way to the next one.")
    elif study.settings["tilt_on"] and not study.settings["reclined_on"]:
        found.append("The tilt check compares two readings of one sensor: a case mounted at an angle turns both, so "
                     "only clipping and rounding can flip it. Reclined and every axis do know where the axes point.")
    return found


def _of_offset(study: Study) -> list[str]:
    g = study.device.number("wake.offset_mg") / 1000
    if g == 0:
        return []
    return [f"A zero-g offset of {g * 1000:g} mg leans a level axis by {model.leaning_deg(g):.3f}° (asin), by the "
            f"rule's angle {model.turned_deg(g):.3f}° (atan); on all three axes the magnitude reads "
            f"{reading_in_free_fall((g, g, g)) * 1000:.1f} mg in free fall."]


def _of_clipping(prepared: Prepared) -> list[str]:
    clipped = sum(one.clipped > 0 for one in prepared.recordings)
    if not clipped:
        return []
    return [f"{clipped} of {len(prepared.recordings)} recordings clip: what was cut off one axis can't appear on "
            "another when they are turned."]


class _Flips:
    """Events that come out otherwise, in words."""

    def __init__(self, labelled: StudyEvents, prepared: Prepared, thing: Worn) -> None:
        self.labelled, self.prepared, self.thing = labelled, prepared, thing

    def changed(self, before: np.ndarray, after: np.ndarray, where: str) -> tuple[Flip, ...]:
        return tuple(self._flip(event, int(before[event]), int(after[event]), where)
                     for event in np.flatnonzero(before != after).tolist())

    def of_all(self, found: list[Angle]) -> dict[tuple[str, float], tuple[Flip, ...]]:
        return {(one.axis, one.degrees): tuple(
            self._flip(event, int(found[0].outcome[event]), int(one.outcome[event]), f"{one.axis} {one.degrees:+g}°")
            for event in flips(found[0], one).tolist()) for one in found[1:]}

    def _flip(self, event: int, was: int, now: int, where: str) -> Flip:
        (name, label), number = self.labelled.label(event), int(self.labelled.events.recording[event])
        sample = int(self.thing.highest[event] - self.thing.recording_first[number])
        seconds = float(self.prepared.seen[number].timeline.seconds(sample))
        return Flip(name, label.title, label.kind, OUTCOMES[was], OUTCOMES[now], where, seconds, sample)


def _rows(before: Score, after: Score) -> tuple[tuple[str, str, str], ...]:
    one, other = figures(before), figures(after)
    return (("sensitivity", percent(one.sensitivity), percent(other.sensitivity)),
            ("specificity", percent(one.specificity), percent(other.specificity)),
            ("caught", str(before.matrix.tp), str(after.matrix.tp)),
            ("false alarms", str(before.matrix.fp), str(after.matrix.fp)),
            ("unlabelled alarms", str(sum(before.unlabelled)), str(sum(after.unlabelled))))


def _headline(study: Study, bears: tuple[RotationTolerance, ...], kind: str) -> str:
    if not bears:
        return ""
    most = study.device.number("mounting.sweep_to_deg")
    said = []
    for one in bears:
        whole = -one.least >= most - 1e-9 and one.most >= most - 1e-9
        same = f"±{one.most:g}°" if one.most else "none of the angles tried"
        ends = same if -one.least == one.most else f"{one.least:g}° to {one.most:+g}°"
        said.append(f"{one.axis} ±{most:g}° (all tried)" if whole else f"{one.axis} {ends}")
    words = "slipping within an event" if kind == SLIPS else "turned throughout"
    return f"Rotation tolerance, {words}: {'; '.join(said)}. Within it no outcome changes.".replace("-", MINUS)


CURVE = ("axis", "degrees", "caught", "false_alarms", "unlabelled", "flips")


def curve(view: MountingView) -> tuple[tuple[str, float, int, int, int, int], ...]:
    """Of every angle what CURVE names; 0° for each axis."""
    if not view.angles:
        return ()
    level = view.angles[0]
    axes = list(dict.fromkeys(one.axis for one in view.angles[1:]))
    rows = []
    for axis in axes:
        mine = [Angle(axis, 0.0, level.outcome, level.unlabelled, level.clamped),
                *(one for one in view.angles[1:] if one.axis == axis)]
        for one in sorted(mine, key=lambda one: one.degrees):
            rows.append((axis, one.degrees, int(np.count_nonzero(one.outcome == CAUGHT)),
                         int(np.count_nonzero(one.outcome == FALSE_ALARM)), one.unlabelled, len(flips(level, one))))
    return tuple(rows)


def first_flips(view: MountingView) -> tuple[Flip, ...]:
    """Of each axis, either way, the events that flip at the smallest angle."""
    rows: list[Flip] = []
    for axis in dict.fromkeys(axis for axis, _ in view.flips):
        for sign in (-1, 1):
            way = sorted((abs(degrees), some) for (one, degrees), some in view.flips.items()
                         if one == axis and degrees * sign > 0 and some)
            rows += way[0][1] if way else ()
    return tuple(rows)


def plain(view: MountingView) -> dict[str, Any]:
    return {
        "numbers": view.study.device.under("mounting."),
        "as_recorded": asdict(view.before.matrix),
        "as_mounted": None if view.after is None else asdict(view.after.score.matrix),
        "changed": [asdict(one) for one in view.changed],
        "sweep": [dict(zip(CURVE, row, strict=True)) for row in curve(view)],
        "bears": [{"axis": one.axis, "least_deg": one.least, "most_deg": one.most} for one in view.borne],
        "first_to_flip": [asdict(one) for one in first_flips(view)],
        "said": list(view.said),
        "headline": view.headline,
        "placements": asdict(view.placements),
    }
