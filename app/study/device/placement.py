"""Where to wear it: nodes or placements of the study's recordings beside each other, and what each place adds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np

from app.formatting import GAP, part
from app.study import actions
from app.study.pipeline import Made, label
from app.study.recordings.nodes import groups, nodes_of
from app.study.state import Item, Study
from detect.device.part.placement import Swing, swings
from detect.scoring.corpus import Corpus
from detect.scoring.score import CAUGHT, FALSE_ALARM, MISSED, QUIET, Events

TITLES = ("worn at", "falls caught", "false alarms", "peaks of falls", "peaks of others", "ratio")
SWING_TITLES = ("place", "adds at impact", "adds in a quick move")


@dataclass(frozen=True)
class PlacedScore:
    """One node or placement under the study's settings. `fall_g`: the median of its falls' hardest samples; `other_g`:
    95 % of other activities stay below; None where it has none."""

    name: str
    caught: int
    falls: int
    false_alarms: int
    others: int
    fall_g: float | None
    other_g: float | None

    @property
    def ratio(self) -> float | None:
        """How far apart the peaks are, whatever the thresholds."""
        return None if self.fall_g is None or not self.other_g else self.fall_g / self.other_g

    @property
    def right(self) -> float:
        """Youden's J, or what of it is known."""
        return (self.caught / self.falls if self.falls else 0) - (self.false_alarms / self.others if self.others else 0)


@dataclass(frozen=True)
class Placements:
    """`rows`: those that can be compared, the best first. `said`: what that is worth. `swings`: of the body as a model.
    """

    rows: tuple[PlacedScore, ...]
    said: str
    swings: tuple[Swing, ...]


def placements(study: Study, made: Made) -> Placements:
    """Nodes of the same recordings where there are some, else recordings of several placements."""
    nodes, shared = nodes_of(study), groups(study.items)
    if len(nodes) > 1:
        whole = {group for group, some in shared.items() if {item.about.node for item in some} >= set(nodes)}
        found = tuple(_node(study, made, node, whole or set(shared)) for node in nodes)
        same = "the same events at each" if whole else "no recording has them all, so not of the same events"
    else:
        places = sorted({item.about.placement for item in study.items if item.scored and item.about.placement})
        found = tuple(_counted(place, made, made[1].events, made[1].owners, made[0].score.outcome,
                               partial(_worn_at, place)) for place in places)
        same = "different recordings at each, so people and activities differ too"
    if len(found) < 2:
        said = "All is worn at one place, so places can't be compared: record several at once."
        return Placements((), said, swings(study.device))
    rows = tuple(sorted(found, key=lambda one: -one.right))
    said = (f"{rows[0].name} does best, in-sample: {same}. The settings are the study's and flatter the place that "
            "they were chosen on; the ratio of the peaks does not hang on them.")
    return Placements(rows, said, swings(study.device))


def _worn_at(place: str, item: Item) -> bool:
    return item.about.placement == place


def _node(study: Study, made: Made, node: str, of: set[str]) -> PlacedScore:
    found, _, prepared = made
    labelled = label(actions.score_node(study, node), prepared)
    table = found.attempts
    outcome = labelled.score(table.alarm_recording, table.alarm_impact, found.rule.hold_off).outcome
    worn = {item.about.placement for item in study.items if item.about.node == node} - {"", node}
    name = f"{node}, {', '.join(sorted(worn))}" if worn else node
    return _counted(name, made, labelled.events, labelled.owners, outcome,
                    lambda item: item.about.node == node and item.group in of)


def _counted(name: str, made: Made, events: Events, owners: tuple[tuple[Item, int], ...], outcome: np.ndarray,
             mine: Callable[[Item], bool]) -> PlacedScore:
    chosen = np.array([mine(item) for item, _ in owners], dtype=bool)
    counts = [int(np.count_nonzero(chosen & (outcome == one))) for one in (CAUGHT, MISSED, FALSE_ALARM, QUIET)]
    caught, missed, false, quiet = counts
    corpus, k = made[2].engine.corpus, made[2].front_end.k
    peaks = {fall: [one / k for one in _peaks(corpus, events, np.flatnonzero(chosen & (events.is_fall == fall)))]
             for fall in (True, False)}
    return PlacedScore(name, caught, caught + missed, false, false + quiet,
                       float(np.median(peaks[True])) if peaks[True] else None,
                       float(np.percentile(peaks[False], 95)) if peaks[False] else None)


def _peaks(corpus: Corpus, events: Events, which: np.ndarray) -> Iterator[float]:
    """The largest magnitude of each of these scored events, in counts."""
    for event in which.tolist():
        at = int(events.recording[event])
        first, last = int(events.wide_first[event]), int(events.wide_last[event])
        if events.scored[at] and first <= last:
            begin = int(corpus.recording_first[at])
            piece = corpus.counts[begin + first:begin + last + 1].astype(np.int64)
            yield float(np.sqrt((piece * piece).sum(axis=1).max()))


def row_texts(one: PlacedScore) -> tuple[str, ...]:
    """Under TITLES."""
    return (one.name, part(one.caught, one.falls), part(one.false_alarms, one.others),
            "no data" if one.fall_g is None else f"{one.fall_g:.2f}{GAP}g, median",
            "no data" if one.other_g is None else f"95{GAP}% below {one.other_g:.2f}{GAP}g",
            "" if one.ratio is None else f"{one.ratio:.2f}")


def swing_texts(one: Swing) -> tuple[str, ...]:
    """Under SWING_TITLES."""
    return one.place, f"{one.impact_g:.2f}{GAP}g", f"{one.move_g:.2f}{GAP}g"


BOTH_WAYS = ("Off a centre of rotation, turning adds to a reading both ways: to an impact, which is easier to tell, "
             "and to a quick move, which is easier to mistake for one. A model of a rigid body that topples, and of "
             "one quick move.")
