"""Several sensors of one recording: which of them is scored, what they share, and an alarm of any of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from app.study.state import Item, Study
from data.labels.label_clock import moved
from data.problem import Problem
from data.recordings.model import Shift
from detect.rule.timeline import Timeline
from detect.scoring.owners import UNLABELLED
from detect.scoring.score import Events, owners_of

ANY = "any"
"""In place of a node's name: an alarm of any node counts."""

ANOTHER = "another node is scored"


def groups(items: Sequence[Item]) -> dict[str, list[Item]]:
    """The nodes of each recording that has several, in the study's order."""
    found: dict[str, list[Item]] = {}
    for item in items:
        if item.group:
            found.setdefault(item.group, []).append(item)
    return {group: some for group, some in found.items() if len(some) > 1}


def nodes_of(study: Study) -> tuple[str, ...]:
    """The names of nodes that can be chosen."""
    return tuple(dict.fromkeys(item.about.node for some in groups(study.items).values() for item in some))


def known(study: Study, node: str) -> str:
    """The node, if there is one of that name or it is "any". Raises Problem."""
    names = nodes_of(study)
    if node == ANY or node in names:
        return node
    said = ", ".join(names) if names else "none"
    raise Problem("option", f'The study has no node "{node}"; it has: {said}.', "Name one, or any.",
                  value=node)


def passed_over(study: Study) -> frozenset[str]:
    """Names of recordings that are not scored by themselves, since another node of theirs is.

    The node chosen; where none is, or a recording lacks it, its first. Of ANY, the first stands for all.
    """
    found = set()
    for some in groups(study.items).values():
        usable = [item for item in some if item.scored] or some
        chosen = next((item for item in usable if item.about.node == study.node), usable[0])
        found |= {item.name for item in some if item is not chosen}
    return frozenset(found)


def share_labels(before: Study, after: Study) -> Study:
    """What was labelled on one node happened to all of them: labels that an action changed go to the others, each on
    its own clock."""
    if after.items is before.items:
        return after
    old = {item.name: item for item in before.items}
    changed: dict[str, Item] = {}
    for some in groups(after.items).values():
        edited = [item for item in some if item.name in old and old[item.name].labels != item.labels
                  and old[item.name].clock == item.clock]
        if len(edited) == 1:
            (source,) = edited
            for item in some:
                if item is not source:
                    changed[item.name] = replace(item, labels=moved(source.labels, source.clock, item.clock))
    if not changed:
        return after
    return replace(after, items=tuple(changed.get(item.name, item) for item in after.items))


@dataclass(frozen=True, eq=False)
class Lending:
    """Alarms of other nodes, told as those of the node that stands for the recording.

    `primary`: for each recording the place of the one that stands for it, itself where it stands alone. `names`: what
    each one's node is called.
    """

    primary: np.ndarray
    clocks: tuple[Shift, ...]
    timelines: tuple[Timeline, ...]
    names: tuple[str, ...] = ()

    def standing_for(self, place: int) -> list[int]:
        """The nodes whose alarms count for this one, itself first."""
        others = [at for at in np.flatnonzero(self.primary == place).tolist() if at != place]
        return [place, *others]

    def lent(self, recording: np.ndarray, impact: np.ndarray, events: Events, hold_off: int) \
            -> tuple[np.ndarray, np.ndarray]:
        """The alarms with recording and impact of whom they count for.

        A unlabelled that follows another of the same recording within the hold-off is one alarm to the wearer: it stays
        with its own node, where nothing is scored.
        """
        to = self.primary[recording]
        when = impact.copy()
        for place in np.unique(recording[to != recording]).tolist():
            mine = recording == place
            when[mine] = self.on(place, int(self.primary[place]), impact[mine])
        unlabelled = np.flatnonzero(owners_of(to, when, events) == UNLABELLED)
        last: dict[int, tuple[int, int]] = {}
        for i in unlabelled[np.lexsort((when[unlabelled], to[unlabelled]))].tolist():
            before = last.get(int(to[i]))
            if before is not None and before[1] != recording[i] and when[i] - before[0] <= hold_off:
                to[i], when[i] = recording[i], impact[i]
                if to[i] == self.primary[recording[i]]:  # the node itself stands for all: count the other's instead
                    to[i], when[i] = _nobody(self.primary, int(recording[i])), 0
                continue
            last[int(to[i])] = (int(when[i]), int(recording[i]))
        return to, when

    def on(self, place: int, other: int, samples: np.ndarray) -> np.ndarray:
        """Samples of one node as the nearest ones of another, through what both clocks call the same time."""
        there, here = self.clocks[place], self.clocks[other]
        seconds = here.here(there.there(self.timelines[place].seconds(samples)))
        line = self.timelines[other]
        after = np.minimum(line.at_or_after(seconds), line.count - 1)
        before = np.maximum(line.at_or_before(seconds), 0)
        nearer = np.abs(line.seconds(after) - seconds) < np.abs(seconds - line.seconds(before))
        return np.asarray(np.where(nearer, after, before))


def _nobody(primary: np.ndarray, place: int) -> int:
    """A node of the same recording at which nothing is scored."""
    return int(np.flatnonzero((primary == place) & (np.arange(len(primary)) != place))[0])


def seen_on(events: Events, lent: Lending, recording: int, place: int) -> Events:
    """The events with those of one recording told as another of its nodes has them: in its samples, as its own."""
    if place == recording:
        return events
    mine = events.recording == recording

    def there(samples: np.ndarray) -> np.ndarray:
        moved = samples.copy()
        moved[mine] = lent.on(recording, place, samples[mine])
        return moved

    scored = events.scored.copy()
    scored[place] = scored[recording]
    return replace(events, recording=np.where(mine, place, events.recording), first=there(events.first),
                   last=there(events.last), wide_first=there(events.wide_first), wide_last=there(events.wide_last),
                   onset=there(events.onset), scored=scored)


def lending(study: Study, position: Mapping[str, int], timelines: Sequence[Timeline]) -> Lending | None:
    """None where each recording is scored by one node's alarms."""
    if study.node != ANY:
        return None
    over = passed_over(study)
    primary = np.arange(len(timelines))
    clocks, names = [Shift()] * len(timelines), [""] * len(timelines)
    for some in groups(study.items).values():
        there = [item for item in some if item.name in position]
        chosen = next((item for item in there if item.name not in over), None)
        for item in there:
            clocks[position[item.name]] = item.clock
            names[position[item.name]] = item.about.node or item.name
            if chosen is not None and item.scored:
                primary[position[item.name]] = position[chosen.name]
    return Lending(primary, tuple(clocks), tuple(timelines), tuple(names))
