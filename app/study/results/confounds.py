"""What else tells falls from other activities in this study, in sentences, with the recordings behind each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from app.formatting import decimal
from app.study.memo import Memo
from app.study.pipeline import Prepared, StudyEvents
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule
from detect.scoring.confounds import Confound, best_cut, confounds, early_ends, left_after_peak_s
from detect.scoring.score import LEFT_OUT

_UNITS = {"rate_hz": ("rate", "Hz", 1.0), "length_s": ("length", "s", 1.0),
          "left_after_peak_s": ("time left after the peak", "s", 1.0), "clipped_share": ("clipped", "%", 100.0)}
"""Of a number: its short name, its unit, and by what it is multiplied to be read in it."""


@dataclass(frozen=True)
class ConfoundRow:
    """One thing that could tell the kinds apart, and of a strong one what to do. `words`: what the recordings behind it
    have in common."""

    key: str
    sentence: str
    strong: bool
    auc: float | None
    words: str
    recordings: tuple[str, ...]
    remedy: str = ""


class Confounding:
    """Computed once for a corpus and its labels; only how early recordings end depends on the rule."""

    def __init__(self, prepared: Prepared, labelled: StudyEvents) -> None:
        events = labelled.events
        scored = events.with_alarm != LEFT_OUT
        self._is_fall = events.is_fall[scored]
        self._items = [item for (item, _), counts in zip(labelled.owners, scored, strict=True) if counts]
        recordings = [prepared.recordings[i] for i in events.recording[scored].tolist()]
        left = left_after_peak_s(prepared.engine.corpus, events, [seen.timeline for seen in prepared.seen])
        self._numbers = {
            "rate_hz": np.array([one.fitted_rate_hz for one in recordings]),
            "length_s": np.array([one.duration_s for one in recordings]),
            "left_after_peak_s": left[scored],
            "clipped_share": np.array([one.clipped / max(len(one), 1) for one in recordings]),
        }
        self._categories = {
            "person": [item.about.person for item in self._items],
            "setting": [item.about.setting for item in self._items],
            "placement": [item.about.placement for item in self._items],
        }
        self._lasting = confounds(self._is_fall, self._numbers, self._categories)
        self._memo = Memo()

    def found(self, needs: float) -> tuple[Confound, ...]:
        """The most telling first. `needs`: seconds that the rule wants after a peak."""
        early = self._memo.of("early", (needs,), lambda: early_ends(
            self._is_fall, self._numbers["left_after_peak_s"], needs))
        every = (*self._lasting, early)
        return tuple(sorted(every, key=lambda one: -1.0 if one.auc is None else abs(one.auc - 0.5), reverse=True))

    def rows(self, needs: float) -> tuple[ConfoundRow, ...]:
        """Everything, the strong first, with the recordings behind it."""
        return self._memo.of("rows", (needs,), lambda: self._make_rows(needs))

    def _make_rows(self, needs: float) -> tuple[ConfoundRow, ...]:
        made = []
        for one in self.found(needs):
            words, behind = self._behind(one.key, needs)
            names = tuple(dict.fromkeys(item.name for item, is_one in zip(self._items, behind, strict=True) if is_one))
            made.append(ConfoundRow(one.key, one.sentence, one.strong, one.auc, words, names, one.remedy))
        return tuple(sorted(made, key=lambda row: not row.strong))

    def _behind(self, key: str, needs: float) -> tuple[str, Sequence[bool]]:
        """What this thing alone would call a fall, in words, and which events that is."""
        if key == "ends_early":
            return f"ends within {needs:.1f} s of its peak", (self._numbers["left_after_peak_s"] < needs).tolist()
        if key in self._categories:
            values, usual = self._categories[key], float(np.mean(self._is_fall)) if len(self._is_fall) else 0.0
            mostly = {value for value in set(values) if value and np.mean(
                [fall for fall, one in zip(self._is_fall.tolist(), values, strict=True) if one == value]) > usual}
            return f"{key}: more falls than usual", [value in mostly for value in values]
        values_of = self._numbers[key]
        cut = best_cut(self._is_fall, values_of)
        if cut is None:
            return f"{_UNITS[key][0]} is the same", [False] * len(values_of)
        name, unit, times = _UNITS[key]
        at = f"{decimal(round(cut.at * times, 2))}\u00a0{unit}"
        if cut.falls_above:
            return f"{name} above {at}", (values_of > cut.at).tolist()
        return f"{name} below {at}", (values_of < cut.at).tolist()


def needs_s(rule: Rule, front_end: FrontEnd) -> float:
    """How long the rule wants a recording to go on after its impact, seconds."""
    return front_end.ms(rule.settle + (rule.observe if rule.observes else 0)) / 1000
