"""Keeps the newest samples so that an alarm's are there when it comes: the twin of plumbfall_recorder.c."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from detect.firmware.record import Head, Record, kept


class Recorder:
    """`shape`: a head with what all records have in common. ValueError where it keeps no sample before an alarm."""

    def __init__(self, shape: Head) -> None:
        if shape.before == 0:
            raise ValueError("a record keeps at least the alarm's own sample")
        self._shape = shape
        self._samples: list[Sequence[int]] = []
        self._head: Head | None = None
        self._left = 0

    def step(self, x: int, y: int, z: int) -> Record | None:
        """The record that this sample completes."""
        self._samples.append((x, y, z))
        del self._samples[:-(self._shape.before + self._shape.after)]
        if self._head is None:
            return None
        self._left -= 1
        return self._close() if self._left == 0 else None

    def alarm(self, event: Sequence[int], seconds: int, milliseconds: int) -> Record | None:
        """After the step of the alarm's sample; the record where none is to come after it. A second one is no news."""
        if self._head is not None:
            return None
        measured = tuple(event) if self._shape.event is not None else None
        self._head = replace(self._shape, event=measured, seconds=seconds, milliseconds=milliseconds)
        self._left = self._shape.after
        return self._close() if self._left == 0 else None

    def gap(self) -> Record | None:
        """Samples were lost, or the end: the record that was open, with what came after its alarm."""
        if self._head is not None:
            return self._close()
        self._samples.clear()
        return None

    def _close(self) -> Record:
        assert self._head is not None
        after = self._shape.after - self._left
        before = min(len(self._samples) - after, self._shape.before)
        samples = np.array(self._samples[-(before + after):] if before + after else [], np.int16).reshape(-1, 3)
        head = replace(self._head, before=before, after=after)
        self._samples.clear()
        self._head = None
        return Record(head, kept(samples, head.bits, head.shift))
