"""Side by side: the events of one cell of the matrix as small pictures, aligned, on the same scales."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from app.study.memo import Memo
from app.study.pipeline import Evaluated, Prepared, StudyEvents
from app.study.results.explanation import Nearest, NearestAttempts
from app.study.state import Study
from detect.rule.integers import Rule
from detect.scoring.score import OUTCOMES

BEFORE_S, LEAST_AFTER_S, MOST_AFTER_S = 2.0, 3.0, 10.0
"""How much of the recording is pictured around the place where the events are aligned."""

AFTER_THE_RULE_S = 0.5
"""Pictured beyond the end of what the rule observes."""

COLUMNS = 240
"""With more samples than twice this, a picture holds the extremes of so many columns."""

HEADROOM = 1.08

_WORDS = {"missed": ("missed fall", "missed falls"), "false alarm": ("false alarm", "false alarms"),
          "caught": ("caught fall", "caught falls"), "quiet": ("quiet activity", "quiet activities")}
ALIGNMENTS = ("impact", "label")
ORDERS = ("nearest first", "farthest first", "by name")


@dataclass(frozen=True)
class Tile:
    """One event: what it is, where the rule stopped and by how much, where it is aligned.

    `place`: the sample to look at: of its impact, or where its label begins. `start_s`, `at_s`: its label's begin,
    and the place, in the recording's clock. `stopped` in words; `phrase`: "0.31 g short".
    """

    event: int
    recording: str
    name: str
    kind: str
    person: str
    outcome: str
    stopped: str
    phrase: str
    place: int
    start_s: float
    at_s: float


@dataclass(frozen=True, eq=False)
class Picture:
    """|a| of an event around its place: `seconds` (n,) from there, `g` (n,). `largest` (n,): of the axes' values
    without their signs the largest, which is what free fall asks where it asks every axis. `breaks`: where a piece
    begins anew."""

    seconds: np.ndarray
    g: np.ndarray
    largest: np.ndarray
    breaks: np.ndarray


@dataclass(frozen=True, eq=False)
class SideBySide:
    """All tiles of a cell in order, and the scales that they share. `lines`: threshold's key, g; "free_fall_axes_g" is
    one on the largest axis, not on |a|."""

    outcome: str
    alignment: str
    tiles: tuple[Tile, ...]
    before_s: float
    after_s: float
    top_g: float
    lines: Mapping[str, float]
    pictures: Pictures

    def picture(self, tile: Tile) -> Picture:
        return self.pictures.of(tile.event, tile.place, self.before_s, self.after_s)

    @property
    def on_axes(self) -> bool:
        """Whether free fall asks every axis, and not |a|."""
        return "free_fall_axes_g" in self.lines

    @property
    def title(self) -> str:
        """"4 missed falls, at their impact"."""
        count = len(self.tiles)
        one, more = _WORDS[self.outcome]
        return f"{count} {one if count == 1 else more}, at {'its' if count == 1 else 'their'} {self.alignment}"

    @property
    def legend(self) -> str:
        """What else than |a| is drawn; empty where nothing is."""
        return "Blue: the largest of the axes, which free fall is asked of; black: |a|." if self.on_axes else ""


class Pictures:
    """Kept while the samples and labels stay: a slider's move costs no picture."""

    def __init__(self, prepared: Prepared, labelled: StudyEvents) -> None:
        self.prepared, self.labelled = prepared, labelled
        self._memo = Memo()

    def of(self, event: int, place: int, before_s: float, after_s: float) -> Picture:
        of = event, place, before_s, after_s
        return self._memo.of(of, (), lambda: self._make(*of))

    def peak(self, event: int) -> tuple[int, float]:
        """The sample of an event's largest |a|, and its g; where it holds no sample, its onset."""
        return self._memo.of(event, (), lambda: self._peak(event))

    def _peak(self, event: int) -> tuple[int, float]:
        events = self.labelled.events
        first, last = int(events.wide_first[event]), int(events.wide_last[event])
        squares = _squares(self._counts(event)[first:last + 1])
        at = int(squares.argmax()) if len(squares) else 0
        height = math.sqrt(int(squares[at])) if len(squares) else 0.0
        return first + at, height / self.prepared.front_end.k

    def _counts(self, event: int) -> np.ndarray:
        return self.prepared.seen[int(self.labelled.events.recording[event])].counts

    def _make(self, event: int, place: int, before_s: float, after_s: float) -> Picture:
        timeline = self.prepared.seen[int(self.labelled.events.recording[event])].timeline
        zero = timeline.seconds(place)
        first, after = timeline.at_or_after(zero - before_s), timeline.at_or_before(zero + after_s) + 1
        counts = self._counts(event)[first:after]
        g = np.sqrt(_squares(counts)) / self.prepared.front_end.k
        largest = np.abs(counts.astype(np.int32)).max(axis=1, initial=0) / self.prepared.front_end.k
        seconds = timeline.seconds(np.arange(first, after)) - zero
        begins = timeline.first - first
        breaks = begins[(begins > 0) & (begins < len(g))]
        if len(g) <= 2 * COLUMNS or len(breaks):
            return Picture(seconds, g, largest, breaks)
        edges = np.linspace(0, len(g), COLUMNS + 1).astype(np.int64)[:-1]
        return Picture(np.repeat(seconds[edges], 2), _extremes(g, edges), _extremes(largest, edges), breaks)


def _extremes(values: np.ndarray, edges: np.ndarray) -> np.ndarray:
    """Up in one column, down in the next: neighbours join high to high, low to low."""
    pairs = np.column_stack([np.minimum.reduceat(values, edges), np.maximum.reduceat(values, edges)])
    pairs[1::2] = pairs[1::2, ::-1]
    return pairs.ravel()


def _squares(counts: np.ndarray) -> np.ndarray:
    wide = counts.astype(np.int64)
    return np.asarray(np.sum(wide * wide, axis=1))


def side_by_side(study: Study, found: Evaluated, labelled: StudyEvents, nearest: NearestAttempts, pictures: Pictures,
                 outcome: str, alignment: str = "impact", order: str = "nearest first") -> SideBySide:
    """The events with this outcome. `alignment` is one of ALIGNMENTS, `order` one of ORDERS."""
    events = [int(i) for i in np.flatnonzero(found.score.outcome == OUTCOMES.index(outcome))]
    made = [(_tile(event, outcome, alignment, labelled, nearest.of(event), pictures), nearest.of(event).order)
            for event in events]
    made.sort(key=lambda one: (one[0].recording, one[0].start_s))
    if order != "by name":
        made.sort(key=lambda one: one[1], reverse=order == "farthest first")
    front_end = study.front_end
    lines = {"impact_g": front_end.g(found.rule.impact)}
    if found.rule.free_fall_on:
        lines["free_fall_axes_g" if found.rule.every_axis else "free_fall_g"] = front_end.g(found.rule.free_fall)
    top = max([*(pictures.peak(event)[1] for event in events), lines["impact_g"], 1.5]) * HEADROOM
    return SideBySide(outcome, alignment, tuple(tile for tile, _ in made), BEFORE_S, after_s(found.rule, study), top,
                      lines, pictures)


def after_s(rule: Rule, study: Study) -> float:
    """To the end of what the rule observes and a little more, on halves of a second: no dance while settings move."""
    watched = study.front_end.ms(rule.settle + (rule.observe if rule.observes else 0)) / 1000
    return min(max(math.ceil(2 * (watched + AFTER_THE_RULE_S)) / 2, LEAST_AFTER_S), MOST_AFTER_S)


def _tile(event: int, outcome: str, alignment: str, labelled: StudyEvents, near: Nearest, pictures: Pictures) -> Tile:
    item, at = labelled.owners[event]
    label, events = item.labels[at], labelled.events
    timeline = pictures.prepared.seen[int(events.recording[event])].timeline
    place = int(events.onset[event])
    if alignment == "impact":
        place = pictures.peak(event)[0]
        if near.impact is not None:
            place = near.impact
    start = label.onset_s if label.onset_s is not None else timeline.seconds(0)
    return Tile(event, item.name, label.name, label.kind, item.about.person, outcome, near.ended, near.phrase,
                place, start, timeline.seconds(place))
