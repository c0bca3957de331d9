"""A table of attempts, a column each: what scoring needs at once, everything else when somebody asks."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from detect.attempt import CHECKS, ENDS, Attempt
from detect.engine_explain import Column, explain
from detect.engine_index import Index
from detect.engine_stages import Landings, Trail
from detect.rule import Rule

ALARM, NO_IMPACT, REJECTED, CUT_OFF = range(len(ENDS))
"""Codes of `ended`: places in ENDS."""


class Attempts:
    """Every attempt of a corpus under one rule, sorted by recording, then time.

    Columns (k,): `recording`; `ended`, a code; `impact`, a sample number within the recording, −1 without one.
    `columns` has all of an attempt's fields. Keeps the engine's index alive for them.
    """

    def __init__(self, index: Index, rule: Rule, trail: Trail, landed: Landings) -> None:
        self.rule = rule
        self._index, self._trail, self._landed = index, trail, landed
        stretch = index.stretch_of(trail.first)
        self.recording = index.recording[stretch]
        hit = trail.landing >= 0
        place = landed.impact[trail.landing] if len(landed.impact) else trail.landing
        self.impact = np.where(hit, place + index.to_sample[stretch], -1)
        self.ended = np.where(trail.alarm, ALARM, _ENDED[trail.kind]).astype(np.uint8)
        self.alarm_recording = self.recording[trail.alarm]
        self.alarm_impact = self.impact[trail.alarm]

    def __len__(self) -> int:
        return len(self.ended)

    def of(self, recording: int) -> range:
        """Which attempts are this recording's."""
        first, stop = np.searchsorted(self.recording, [recording, recording + 1]).tolist()
        return range(first, stop)

    @cached_property
    def columns(self) -> dict[str, Column]:
        """Every field of `Attempt` but the words, for all attempts: values, and where they are known."""
        return self._explain(np.arange(len(self)))

    def attempt(self, i: int) -> Attempt:
        """One attempt as the reference gives it."""
        if "columns" in self.__dict__:
            return _attempt(self.columns, int(self.ended[i]), i)
        return _attempt(self._explain(np.array([i])), int(self.ended[i]), 0)

    def _explain(self, which: np.ndarray) -> dict[str, Column]:
        return explain(self._index, self.rule, self._trail, self._landed, which)


_ENDED = np.array([REJECTED, NO_IMPACT, CUT_OFF])
"""Of what a candidate led to, where it raised no alarm."""


def _attempt(columns: dict[str, Column], ended: int, i: int) -> Attempt:
    fields = {name: int(column.values[i]) if column.known[i] else None for name, column in columns.items()}
    decided, early, failed, unspoken = (fields.pop(name) or 0 for name in ("decided", "early", "failed", "unspoken"))
    return Attempt(ENDS[ended], decided, bool(early), _checks(failed), _checks(unspoken), **fields)


def _checks(bits: int) -> tuple[str, ...]:
    return tuple(check for bit, check in enumerate(CHECKS) if bits >> bit & 1)
