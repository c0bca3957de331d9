"""A table of attempts, a column each: what scoring needs at once, everything else when somebody asks."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from detect.attempt import CHECKS, ENDS, Attempt
from detect.engine_explain import Column, explain
from detect.engine_places import END
from detect.engine_stages import resumes, taken
from detect.engine_verdicts import Case

ALARM, NO_IMPACT, REJECTED, CUT_OFF = range(len(ENDS))
"""Codes of `ended`: places in ENDS."""


class Attempts:
    """Every attempt of a corpus under one rule, sorted by recording, then time.

    Columns (k,): `recording`; `ended`, a code; `impact`, a sample number within the recording, −1 without one.
    `columns` has all of an attempt's fields. Keeps the engine's index alive for them.
    """

    def __init__(self, case: Case, reached: np.ndarray, alarm: np.ndarray) -> None:
        self.rule = case.rule
        self._case, self._reached, self._alarm = case, reached, alarm
        raised = case.way.landing[reached[alarm]]
        stretch = case.landed.stretch[raised]
        self.alarm_recording = case.index.recording[stretch]
        self.alarm_impact = case.landed.impact[raised] + case.index.to_sample[stretch]

    def __len__(self) -> int:
        return len(self._reached)

    def of(self, recording: int) -> range:
        """Which attempts are this recording's."""
        first, stop = np.searchsorted(self.recording, [recording, recording + 1]).tolist()
        return range(first, stop)

    @cached_property
    def recording(self) -> np.ndarray:
        index = self._case.index
        return index.recording[index.stretch_of(self._case.begun.first[self._reached])]

    @cached_property
    def ended(self) -> np.ndarray:
        begun = self._case.begun
        without = np.where(self._case.index.m2[begun.at[self._reached]] == END, CUT_OFF, NO_IMPACT)
        hit = begun.hit[self._reached]
        return np.where(self._alarm, ALARM, np.where(hit, REJECTED, without)).astype(np.uint8)

    @cached_property
    def impact(self) -> np.ndarray:
        case, impact = self._case, np.full(len(self), -1)
        hit = case.begun.hit[self._reached]
        landing = case.way.landing[self._reached[hit]]
        impact[hit] = case.landed.impact[landing] + case.index.to_sample[case.landed.stretch[landing]]
        return impact

    @cached_property
    def columns(self) -> dict[str, Column]:
        """Every field of `Attempt` but `ended`, for all attempts: values, and where they are known.

        `failed` and `unspoken` are bits, in the order of CHECKS.
        """
        return self._explain(np.arange(len(self)))

    def attempt(self, i: int) -> Attempt:
        """One attempt as the reference gives it."""
        if "columns" in self.__dict__:
            return _attempt(self.columns, int(self.ended[i]), i)
        return _attempt(self._explain(np.array([i])), int(self.ended[i]), 0)

    def _explain(self, which: np.ndarray) -> dict[str, Column]:
        """Columns of these attempts. From where the rule watched depends on how the attempt before ended."""
        case, before = self._case, np.maximum(which - 1, 0)
        previous = self._reached[before]
        watching = case.begun.at[previous] + 1
        hit = np.flatnonzero(case.begun.hit[previous])
        hold_off = np.where(self._alarm[before[hit]], self.rule.hold_off, 0)
        watching[hit] = resumes(case.landed, case.way.landing[previous[hit]], hold_off)
        watching[which == 0] = 0
        one = self._reached[which]
        return explain(case.index, self.rule, taken(case.begun, one), case.landed, case.way.landing[one], watching)


def _attempt(columns: dict[str, Column], ended: int, i: int) -> Attempt:
    fields = {name: int(column.values[i]) if column.known[i] else None for name, column in columns.items()}
    decided, early, failed, unspoken = (
        fields.pop(name) or 0 for name in ("decided", "early", "failed", "unspoken"))
    return Attempt(ENDS[ended], decided, bool(early), _checks(failed), _checks(unspoken), **fields)


def _checks(bits: int) -> tuple[str, ...]:
    return tuple(check for bit, check in enumerate(CHECKS) if bits >> bit & 1)
