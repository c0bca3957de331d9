"""The rule on a node's samples as they come: the same attempts that scoring the recording gives later.

The reference takes a sample at a time, so what is scored later by the engine is what ran live, bit for bit; that holds
where the samples are counts of the study's own front end. Else what runs is a preview.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from app.study.capture.node_stream import Run
from data.recordings.units import PER_G
from detect.firmware.twins.frame import Hello
from detect.rule.attempt import Attempt
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import Rule
from detect.rule.reference import Reference


@dataclass(frozen=True)
class NodeScale:
    """What a node's numbers are: counts with so many in one g, or a unit of acceleration. `rate_hz` 0: unknown."""

    unit: str
    rate_hz: float = 0.0
    counts_per_g: float = 0.0
    bits: int = 16

    @classmethod
    def of(cls, unit: str, rate_hz: float, hello: Hello | None, front_end: FrontEnd) -> NodeScale:
        """By the node's own word; without one, by what the person said, and counts are the study's."""
        if unit != "counts":
            return cls(unit, rate_hz)
        if hello is None:
            return cls(unit, rate_hz or front_end.rate_hz, front_end.k, front_end.bits)
        return cls(unit, hello.rate_hz, hello.counts_per_g, hello.bits)

    def exact(self, front_end: FrontEnd) -> bool:
        """Whether these are the study's own counts at its own rate."""
        return (self.unit == "counts" and abs(self.counts_per_g - front_end.k) < 1e-3
                and self.bits == front_end.bits and abs(self.rate_hz - front_end.rate_hz) < 1e-3)

    def counts(self, samples: np.ndarray, front_end: FrontEnd) -> np.ndarray:
        """(n, 3) int16 of the study's front end, at the node's rate."""
        if self.exact(front_end):
            return samples.astype(np.int16)
        g = samples / self.counts_per_g if self.unit == "counts" else samples / PER_G[self.unit]
        return to_counts(g, front_end)[0]


@dataclass
class LiveRule:
    """One node under one rule. `stage`: the rule's state after the last sample."""

    rule: Rule
    attempts: list[Attempt] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._reference = Reference(self.rule)
        self._start = 0

    @property
    def stage(self) -> str:
        return self._reference.state

    @property
    def samples(self) -> int:
        """Samples since the node's start."""
        return self._reference.t + 1

    def take(self, run: Run, counts: np.ndarray) -> list[Attempt]:
        """The attempts that end with these samples; `counts`: (n, 3) int16."""
        ended: list[Attempt | None] = []
        if run.start != self._start:
            if self._start:
                ended.append(self._reference.finish())
            self._reference, self._start = Reference(self.rule), run.start
        elif run.gap:
            ended.append(self._reference.gap())
        ended += [self._reference.step(x, y, z) for x, y, z in counts.tolist()]
        return self._kept(ended)

    def finish(self) -> list[Attempt]:
        return self._kept([self._reference.finish()])

    def _kept(self, ended: list[Attempt | None]) -> list[Attempt]:
        found = [attempt for attempt in ended if attempt is not None]
        self.attempts += found
        return found
