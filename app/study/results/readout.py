"""From outcomes to what people read: rows, cells and sentences, the same in the window and on the command line."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace

import numpy as np

from app.formatting import decimal, part, plural
from app.study.pipeline import Evaluated, Prepared, StudyEvents
from app.study.recordings.nodes import ANOTHER, passed_over
from app.study.recordings.trim import in_words, seconds, trimmed
from app.study.results.content import EventRow, FigureCell, RecordingRow, ScoreView
from app.study.sealed import sealed_set
from app.study.state import Item, Study
from data.recordings.model import Label
from detect.scoring.figures import METHODS, Figures, UnlabelledAlarmRate, counts_by, figures
from detect.scoring.intervals import ByPeople, Estimate, Interval, People
from detect.scoring.score import CAUGHT, LEFT_OUT, OUTCOMES, QUIET, outcomes_of_recordings

NO_DATA = "no data"
PROPORTIONS = ("sensitivity", "specificity", "precision")
FIGURE_WORDS = {**{name: name for name in PROPORTIONS}, "f1": "F1", "mcc": "MCC", "youden_j": "Youden's J"}


def percent(estimate: Estimate | None) -> str:
    return NO_DATA if estimate is None else f"{100 * estimate.value:.1f} %"


def percent_range(interval: Interval | Estimate | None) -> str:
    return "" if interval is None else f"{100 * interval.low:.1f} – {100 * interval.high:.1f} %"


def plain(estimate: Estimate | None) -> str:
    return NO_DATA if estimate is None else f"{estimate.value:.2f}"


def plain_range(interval: Interval | Estimate | None) -> str:
    return "" if interval is None else f"{interval.low:.2f} – {interval.high:.2f}"


class Bystanders:
    """What stays the same while settings move: who each event's person is, and how recordings read otherwise."""

    def __init__(self, study: Study, prepared: Prepared, labelled: StudyEvents) -> None:
        people = sorted({item.about.person for item, _ in labelled.owners})
        number = {person: i for i, person in enumerate(people)}
        self.people = People(0 if "" in number else len(people))
        self.person_of_event = np.array([number[item.about.person] for item, _ in labelled.owners], dtype=np.int64)
        self.number_of_people = len(people)
        self.position = {name: i for i, name in enumerate(prepared.names)}
        over = passed_over(study)
        self.rows = {item.name: _row(item, prepared, self.position.get(item.name), item.name in over)
                     for item in study.items}
        self.trimmed = _trimmed(study.items)
        self.twice = _twice(labelled)

    def by_person(self, outcome: np.ndarray) -> ByPeople | None:
        """None where somebody is not named, or nothing is scored."""
        if self.people.people == 0:
            return None
        if self.people.people == 1:
            return ByPeople(None, None, None, 1, 1)
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


def recording_rows(study: Study, found: Evaluated, labelled: StudyEvents, bystanders: Bystanders) \
        -> tuple[RecordingRow, ...]:
    """One row a recording: its worst outcome, where it is scored and labelled."""
    counts = outcomes_of_recordings(found.score.outcome, labelled.events)[:, :LEFT_OUT]
    worst = np.where(counts.any(axis=1), (counts > 0).argmax(axis=1), LEFT_OUT)
    rows = []
    for item in study.items:
        row, at = bystanders.rows[item.name], bystanders.position.get(item.name)
        if at is not None and row.outcome == "no label" and worst[at] != LEFT_OUT:
            row = replace(row, outcome=OUTCOMES[worst[at]])
        rows.append(row)
    return tuple(rows)


def score_view(study: Study, found: Evaluated, bystanders: Bystanders, rows: Sequence[RecordingRow],
               before: np.ndarray | None, labelled: StudyEvents) -> ScoreView:
    """The score panel's content; `before` are the outcomes under the reference settings."""
    m = found.score.matrix
    all_figures = figures(found.score)
    fixed, broken = changed(before, found.score.outcome, labelled)
    return ScoreView(
        counts=asdict(m), falls=m.tp + m.fn, others=m.fp + m.tn,
        cells=figure_cells(all_figures, bystanders.by_person(found.score.outcome)),
        unlabelled=unlabelled_sentence(all_figures.unlabelled),
        since_mark=_since(before, fixed, broken),
        left_out=_not_scored(rows, found, labelled, bystanders.trimmed, sealed_set.beside_score(study)),
        widening=f"{decimal(study.widening.before_s, 1)} s before, {decimal(study.widening.after_s, 1)} s after",
        fixed=fixed, broken=broken, headline=headline(found), referred=before is not None)


def headline(found: Evaluated) -> str:
    """Caught 41 of 45 · false alarms 3 of 62 · unlabelled alarms 2 in 4.1 h."""
    m, score = found.score.matrix, found.score
    parts = [f"Caught {part(m.tp, m.tp + m.fn)}", f"false alarms {part(m.fp, m.fp + m.tn)}"]
    if sum(score.unlabelled_hours) > 0:
        parts.append(f"unlabelled alarms {decimal(sum(score.unlabelled))} in {sum(score.unlabelled_hours):.1f} h")
    return " · ".join(parts)


ONE_PERSON = "one person"
"""In place of an interval by people that there can't be."""


def figure_cells(found: Figures, people: ByPeople | None) -> tuple[FigureCell, ...]:
    """The proportions in percent, with their exact intervals in the tip; the others as plain numbers."""
    cells = []
    for name, title in FIGURE_WORDS.items():
        estimate = getattr(found, name)
        if name in PROPORTIONS:
            exact = percent_range(getattr(found, f"{name}_exact")) or NO_DATA
            tip = f"{METHODS[name]}: {exact}. By people: whole people drawn again, seeded."
            cells.append(FigureCell(title, percent(estimate), percent_range(estimate),
                                    by_people(people, name, percent_range), tip))
        else:
            cells.append(FigureCell(title, plain(estimate), plain_range(estimate),
                                    by_people(people, name, plain_range), METHODS[name]))
    return tuple(cells)


def by_people(people: ByPeople | None, name: str, words: Callable[[Interval | None], str]) -> str:
    """The interval by people of a figure, or that all its trials are of one person; empty where there is none."""
    if people is None or not hasattr(people, name):
        return ""
    return ONE_PERSON if people.trials_of(name) == 1 else words(getattr(people, name))


def unlabelled_sentence(unlabelled: Sequence[UnlabelledAlarmRate]) -> str:
    """Alarms in unlabelled time, with the hours they come from; a rate a day only where the time is free-living."""
    parts = []
    for of in unlabelled:
        if of.hours == 0:
            continue
        parts.append(f"{decimal(of.alarms)} in {of.hours:.1f} h {of.setting or 'of no stated setting'}{rate_words(of)}")
    return "alarms in unlabelled time: " + ("; ".join(parts) if parts else "no unlabelled time")


def rate_words(of: UnlabelledAlarmRate) -> str:
    """", 20.4 false alarms per day (5.6 – 52.3)"; by the hour where a day would mislead; empty without data."""
    rate, unit = (of.per_hour, "per hour") if of.caution else (of.per_24h, "false alarms per day")
    return "" if rate is None else f", {rate.value:.1f} {unit} ({rate.low:.1f} – {rate.high:.1f})"


def changed(before: np.ndarray | None, now: np.ndarray, labelled: StudyEvents) -> tuple[tuple[str, ...],
                                                                                        tuple[str, ...]]:
    """Recordings with an event that is right now and was not under the reference, and the other way round."""
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
        return "no reference set"
    return f"{decimal(len(fixed))} fixed, {decimal(len(broken))} broken"


def _not_scored(rows: Sequence[RecordingRow], found: Evaluated, labelled: StudyEvents, trimmed_off: str,
                sealed: str) -> str:
    """Recordings and labels without a part in the score, what was trimmed off others, and how many are sealed."""
    parts = [f"{decimal(n)} {word}" for word in ("left out", "refused", "unscored")
             if (n := sum(row.outcome == word for row in rows))]
    events = labelled.events
    outside = int(np.count_nonzero((found.score.outcome == LEFT_OUT) & events.scored[events.recording]))
    if outside:
        parts.append(f"{plural(outside, 'label')} without samples")
    return ", ".join(part for part in (*parts, trimmed_off, sealed) if part)


def _trimmed(items: Sequence[Item]) -> str:
    """"12 s trimmed off 2 recordings"."""
    trims = [item.trim.total_s for item in items if item.trim.total_s and item.scored]
    if not trims:
        return ""
    return f"{seconds(sum(trims))} trimmed off {plural(len(trims), 'recording')}"


def _twice(labelled: StudyEvents) -> tuple[tuple[str, str], ...]:
    """Where what several annotators saw is scored once for each of them: that, and what to do."""
    items = {item.name: item for item, _ in labelled.owners if labelled.annotator is None
             and len({one.annotator for one in item.labels}) > 1}
    twice = sum(_overlap(item.labels) for item in items.values())
    if not twice:
        return ()
    where = plural(twice, "recording")
    return ((f"In {where} labels of several annotators overlap, so the same event counts once for each of them.",
             "Choose whose labels are scored."),)


def _overlap(labels: Sequence[Label]) -> bool:
    spans = sorted((-np.inf if one.onset_s is None else one.onset_s, np.inf if one.end_s is None else one.end_s)
                   for one in labels)
    latest = -np.inf
    for onset, end in spans:
        if onset < latest:
            return True
        latest = max(latest, end)
    return False


def event_rows(found: Evaluated, labelled: StudyEvents, prepared: Prepared, stopped: Mapping[int, str]) \
        -> tuple[EventRow, ...]:
    """One row for each of the events that `stopped` has, in its order."""
    rows = []
    events = labelled.events
    for i in stopped:
        item, n = labelled.owners[i]
        label, code = item.labels[n], int(found.score.outcome[i])
        timeline = prepared.seen[int(events.recording[i])].timeline
        start = label.onset_s if label.onset_s is not None else timeline.seconds(0)
        end = label.end_s if label.end_s is not None else timeline.seconds(timeline.count - 1)
        rows.append(EventRow(item.name, label.kind, label.name, start, end, OUTCOMES[code], stopped[i]))
    return tuple(rows)
