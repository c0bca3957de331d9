"""From outcomes to what people read: rows, cells and sentences, the same in the window and on the command line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from app.study import sealing
from app.study.nodes import ANOTHER, passed_over
from app.study.pipeline import Evaluated, Labelled, Prepared
from app.study.shown import Cell, EventRow, RecordingRow, ScoreView
from app.study.state import Item, Study
from app.study.trimming import in_words, seconds, trimmed
from data.recording import Label
from detect.figures import METHODS, Figures, StrayRate, counts_by, figures
from detect.intervals import ByPeople, Estimate, Interval, People
from detect.score import CAUGHT, LEFT_OUT, OUTCOMES, QUIET, outcomes_of_recordings

NO_DATA = "no data"


def percent(estimate: Estimate | None) -> str:
    return NO_DATA if estimate is None else f"{100 * estimate.value:.1f} %"


def percent_range(interval: Interval | Estimate | None) -> str:
    return "" if interval is None else f"{100 * interval.low:.1f} – {100 * interval.high:.1f} %"


def plain(estimate: Estimate | None) -> str:
    return NO_DATA if estimate is None else f"{estimate.value:.2f}"


def plain_range(interval: Interval | Estimate | None) -> str:
    return "" if interval is None else f"{interval.low:.2f} – {interval.high:.2f}"


def duration(hours: float) -> str:
    """6 h 12 min, 12 min 3 s, 41 s."""
    seconds = round(hours * 3600)
    if seconds >= 3600:
        return f"{seconds // 3600} h {seconds % 3600 // 60} min"
    if seconds >= 60:
        return f"{seconds // 60} min {seconds % 60} s"
    return f"{seconds} s"


class Bystanders:
    """What stays the same while settings move: who each event's person is, and how recordings read otherwise."""

    def __init__(self, study: Study, prepared: Prepared, labelled: Labelled) -> None:
        people = sorted({item.about.person for item, _ in labelled.owners})
        number = {person: i for i, person in enumerate(people)}
        named = len(people) > 1 and "" not in number
        self.people = People(len(people) if named else 0)
        self.person_of_event = np.array([number[item.about.person] for item, _ in labelled.owners], dtype=np.int64)
        self.number_of_people = len(people)
        self.position = {name: i for i, name in enumerate(prepared.names)}
        over = passed_over(study)
        self.rows = {item.name: _row(item, prepared, self.position.get(item.name), item.name in over)
                     for item in study.items}
        self.trimmed = _trimmed(study.items)
        self.twice = _twice(labelled)

    def by_person(self, outcome: np.ndarray) -> ByPeople | None:
        if self.people.people == 0:
            return None
        return self.people.intervals(counts_by(self.person_of_event, outcome, self.number_of_people))


def _row(item: Item, prepared: Prepared, at: int | None, over: bool) -> RecordingRow:
    kinds = {label.kind for label in item.labels}
    label = "fall" if "fall" in kinds else "other" if kinds else ""
    outcome, reason, length, rate = "refused", item.refused, None, None
    if at is not None:
        recording = prepared.recordings[at]
        length, rate = trimmed(recording, item.trim).duration_s, recording.rate_hz
        trim = in_words(item.trim)
        said = [f"{trim[0].upper()}{trim[1:]}."] if trim else []
        outcome, reason = "no label", " ".join([*said, *(remark.sentence for remark in recording.remarks)])
        if item.left_out:
            outcome, reason = "left out", item.left_out
        elif not recording.rate_known:
            outcome = "unscored"
        elif over:
            outcome, reason = "left out", f"{ANOTHER[0].upper()}{ANOTHER[1:]}. {reason}".strip()
    return RecordingRow(item.name, item.about.person, item.about.activity, item.about.placement, length, rate,
                        label, outcome, reason)


def recording_rows(study: Study, found: Evaluated, labelled: Labelled, bystanders: Bystanders) \
        -> tuple[RecordingRow, ...]:
    """One row a recording: its worst outcome, where it is scored and labelled."""
    counts = outcomes_of_recordings(found.score.outcome, labelled.events)[:, :LEFT_OUT]
    worst = np.where(counts.any(axis=1), (counts > 0).argmax(axis=1), LEFT_OUT)
    rows = []
    for item in study.items:
        row, at = bystanders.rows[item.name], bystanders.position.get(item.name)
        if at is not None and row.outcome == "no label" and worst[at] != LEFT_OUT:
            row = RecordingRow(row.name, row.person, row.activity, row.placement, row.length_s, row.rate_hz,
                               row.label, OUTCOMES[worst[at]], row.reason)
        rows.append(row)
    return tuple(rows)


def score_view(study: Study, found: Evaluated, bystanders: Bystanders, rows: Sequence[RecordingRow],
               before: np.ndarray | None, labelled: Labelled, cautions: tuple[str, ...] = ()) -> ScoreView:
    """The score panel's content; `before` are the outcomes under the marked settings."""
    m = found.score.matrix
    all_figures = figures(found.score)
    fixed, broken = changed(before, found.score.outcome, labelled)
    return ScoreView(
        counts={"tp": m.tp, "fn": m.fn, "fp": m.fp, "tn": m.tn}, falls=m.tp + m.fn, others=m.fp + m.tn,
        cells=_cells(all_figures, bystanders.by_person(found.score.outcome)),
        strays=strays_sentence(all_figures.strays),
        since_mark=_since(before, fixed, broken),
        left_out=_not_scored(rows, found, labelled, bystanders.trimmed, sealing.beside_score(study)),
        widening=f"a fall's events reach {study.widening.before_s:g} s before and {study.widening.after_s:g} s after",
        fixed=fixed, broken=broken, headline=headline(found),
        cautions=(*bystanders.twice, *cautions))


def headline(found: Evaluated) -> str:
    """Caught 41 of 45 · false alarms 3 of 62 · strays 2 in 4.1 h."""
    m, score = found.score.matrix, found.score
    parts = [f"Caught {m.tp} of {m.tp + m.fn}", f"false alarms {m.fp} of {m.fp + m.tn}"]
    if sum(score.stray_hours) > 0:
        parts.append(f"strays {sum(score.strays)} in {sum(score.stray_hours):.1f} h")
    return " · ".join(parts)


def _cells(found: Figures, people: ByPeople | None) -> tuple[Cell, ...]:
    by = people or ByPeople(None, None, None)
    return (
        Cell("sensitivity", percent(found.sensitivity), percent_range(found.sensitivity),
             percent_range(by.sensitivity), _tip("sensitivity", percent_range(found.sensitivity_exact))),
        Cell("specificity", percent(found.specificity), percent_range(found.specificity),
             percent_range(by.specificity), _tip("specificity", percent_range(found.specificity_exact))),
        Cell("precision", percent(found.precision), percent_range(found.precision), "",
             _tip("precision", percent_range(found.precision_exact))),
        Cell("F1", plain(found.f1), plain_range(found.f1), "", METHODS["f1"]),
        Cell("MCC", plain(found.mcc), plain_range(found.mcc), "", METHODS["mcc"]),
        Cell("Youden's J", plain(found.youden_j), plain_range(found.youden_j), plain_range(by.youden_j),
             METHODS["youden_j"]),
    )


def _tip(name: str, exact: str) -> str:
    return f"{METHODS[name]}: {exact or NO_DATA}. By people: whole people drawn again, seeded."


def strays_sentence(strays: Sequence[StrayRate]) -> str:
    """Alarms in unlabelled time, with the hours they come from; a rate a day only where the time is free-living."""
    parts = []
    for stray in strays:
        if stray.hours == 0:
            continue
        said = f"{stray.alarms} in {stray.hours:.1f} h {stray.setting or 'of unsaid setting'}"
        rate = stray.per_hour if stray.caution else stray.per_24h
        if rate is not None:
            unit = "an hour" if stray.caution else "per 24 h"
            said += f", {rate.value:.1f} {unit} ({rate.low:.1f} – {rate.high:.1f})"
        parts.append(said)
    return "strays: " + "; ".join(parts) if parts else "strays: no unlabelled time"


def changed(before: np.ndarray | None, now: np.ndarray, labelled: Labelled) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Recordings with an event that is right now and was not under the mark, and the other way round."""
    if before is None:
        return (), ()
    right = np.isin(now, (CAUGHT, QUIET))
    was_right = np.isin(before, (CAUGHT, QUIET))
    scored = (now != LEFT_OUT) & (before != LEFT_OUT)
    names = [item.name for item, _ in labelled.owners]
    return (tuple(names[i] for i in np.flatnonzero(scored & right & ~was_right)),
            tuple(names[i] for i in np.flatnonzero(scored & was_right & ~right)))


def _since(before: np.ndarray | None, fixed: tuple[str, ...], broken: tuple[str, ...]) -> str:
    if before is None:
        return "no mark set"
    return f"{len(fixed)} fixed, {len(broken)} broken"


def _not_scored(rows: Sequence[RecordingRow], found: Evaluated, labelled: Labelled, trimmed_off: str,
                sealed: str) -> str:
    """Recordings and labels without a part in the score, what was trimmed off others, and how many are sealed."""
    parts = [f"{n} {word}" for word in ("left out", "refused", "unscored")
             if (n := sum(row.outcome == word for row in rows))]
    events = labelled.events
    outside = int(np.count_nonzero((found.score.outcome == LEFT_OUT) & events.scored[events.recording]))
    if outside:
        parts.append(f"{outside} label{'s' if outside > 1 else ''} without samples")
    return ", ".join(part for part in (*parts, trimmed_off, sealed) if part)


def _trimmed(items: Sequence[Item]) -> str:
    """"12 s trimmed off 2 recordings"."""
    trims = [item.trim.total_s for item in items if item.trim.total_s and item.scored]
    if not trims:
        return ""
    return f"{seconds(sum(trims))} trimmed off {len(trims)} recording{'s' if len(trims) > 1 else ''}"


def _twice(labelled: Labelled) -> tuple[str, ...]:
    """A caution where what several annotators saw is scored once for each of them."""
    items = {item.name: item for item, _ in labelled.owners if labelled.annotator is None
             and len({one.annotator for one in item.labels}) > 1}
    twice = sum(_overlap(item.labels) for item in items.values())
    if not twice:
        return ()
    where = "1 recording" if twice == 1 else f"{twice} recordings"
    return (f"In {where} labels of several annotators overlap, so the same event counts once for each of them: choose "
            "whose labels are scored.",)


def _overlap(labels: Sequence[Label]) -> bool:
    spans = sorted((-np.inf if one.onset_s is None else one.onset_s, np.inf if one.end_s is None else one.end_s)
                   for one in labels)
    latest = -np.inf
    for onset, end in spans:
        if onset < latest:
            return True
        latest = max(latest, end)
    return False


def event_rows(found: Evaluated, labelled: Labelled, prepared: Prepared, stopped: Sequence[str]) \
        -> tuple[EventRow, ...]:
    """One row an event of the scored recordings."""
    rows = []
    events = labelled.events
    for i, (item, n) in enumerate(labelled.owners):
        label, code = item.labels[n], int(found.score.outcome[i])
        timeline = prepared.seen[int(events.recording[i])].timeline
        start = label.onset_s if label.onset_s is not None else timeline.seconds(0)
        end = label.end_s if label.end_s is not None else timeline.seconds(timeline.count - 1)
        rows.append(EventRow(item.name, label.kind, label.name, start, end, OUTCOMES[code], stopped[i]))
    return tuple(rows)
