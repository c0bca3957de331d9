"""What panels show: plain, immutable, made by the pipeline. A panel can be opened alone with a made-up one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from app.study.state import Item, Study
from detect.rule.attempt import Attempt
from detect.rule.integers import Rule
from detect.rule.timeline import Timeline


@dataclass(frozen=True, eq=False)
class Trace:
    """One recording as the device would see it.

    `counts`: (n, 3) int16 at the front end's rate; divide by `counts_per_g` for g. `seconds` places samples in time.
    """

    item: Item
    counts: np.ndarray
    counts_per_g: float
    seconds: Timeline
    remark: str = ""
    """Placement, length, rate, clipping: what stands at the right of the title."""


@dataclass(frozen=True)
class AttemptRow:
    """One attempt of the shown recording, ready to read."""

    attempt: Attempt
    began_s: float | None
    impact_s: float | None
    ended: str
    """In words: "alarm", "no impact", "not still", …"""
    missing: str
    """By how much: "0.31 g short"."""
    margins: tuple[tuple[str, str, str], ...] = ()
    """Stage, measured, asked: every value with its unit and its counts."""


@dataclass(frozen=True)
class RecordingRow:
    """One line of the Recordings table. Numbers are None where unknown; `outcome` is one of OUTCOMES."""

    name: str
    person: str
    activity: str
    placement: str
    length_s: float | None
    rate_hz: float | None
    label: str
    outcome: str
    reason: str = ""
    """Why refused or left out, or what was remarked while reading."""


OUTCOMES = ("missed", "false alarm", "caught", "quiet", "no label", "left out", "refused", "unscored")

CHANGES = ("fixed", "broken")
"""What became of events since the reference: of fields of ScoreView, and words of the list's filter."""


@dataclass(frozen=True)
class FigureCell:
    """A figure with its intervals, ready to read; `text` is "no data" where there is none."""

    name: str
    text: str
    interval: str = ""
    by_person: str = ""
    tip: str = ""


@dataclass(frozen=True)
class StandingWarning:
    """`title`: in a few words; `sentence`: what is wrong; `remedy`: what to do. `action`: what the window can do about
    it, empty for nothing; `button`: that in words. `recordings`: those behind it, and what they have in common."""

    key: str
    title: str
    sentence: str
    remedy: str
    action: str = ""
    button: str = ""
    recordings: tuple[str, ...] = ()
    in_common: str = ""


@dataclass(frozen=True)
class WorthView:
    """What settings that a search found are worth, ready to read; sentences are empty where there is nothing to say.

    `left_out`: "People left out: caught 38 of 44, …", with `cells`, its figures; `tuned_on`: "On the people it was
    tuned on: …"; `changed`: what was changed since, of settings, recordings or labels; `sealed`: of openings for just
    these settings. `whom`: on how many people, and who; `expected`: of others.
    """

    left_out: str
    cells: tuple[FigureCell, ...]
    tuned_on: str
    changed: str
    sealed: str
    whom: str
    expected: tuple[str, ...] = ()


@dataclass(frozen=True)
class ScoreView:
    """The score panel's content. `counts` has tp, fn, fp, tn."""

    counts: Mapping[str, int]
    falls: int
    others: int
    cells: tuple[FigureCell, ...]
    unlabelled: str
    """"2 in 4.1 h unlabelled, free-living: 11.7 per 24 h (1.4 – 42.3)"."""
    since_mark: str
    left_out: str
    """"3 left out, 2 refused"; empty where every recording is scored."""
    widening: str
    fixed: tuple[str, ...] = ()
    broken: tuple[str, ...] = ()
    headline: str = ""
    warnings: tuple[StandingWarning, ...] = ()
    """The worst first."""
    worth: WorthView | None = None
    """Of settings that a search found."""
    referred: bool = False
    """Whether there is a reference."""

    @property
    def changed(self) -> dict[str, frozenset[str]]:
        """Recordings of each of CHANGES; empty without a reference."""
        return {"fixed": frozenset(self.fixed), "broken": frozenset(self.broken)} if self.referred else {}


@dataclass(frozen=True, eq=False)
class Results:
    """What the rule does to the study: made for one study, and stale as soon as another is open."""

    study: Study
    rule: Rule
    rows: tuple[RecordingRow, ...]
    score: ScoreView
    took_ms: float
    hours: float


@dataclass(frozen=True)
class EventRow:
    """One event of the study and what became of it. `outcome`: caught, missed, false alarm or quiet."""

    recording: str
    kind: str
    name: str
    start_s: float
    end_s: float
    outcome: str
    stopped: str = ""
    """Where the nearest attempt stopped, in words."""
