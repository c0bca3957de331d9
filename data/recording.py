"""What a recording is once it has been read: samples on an even grid, and where each one stands in time."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

STANDARD_GRAVITY = 9.80665
"""m/s² in one g, exactly (ISO 80000-3; CGPM 1901)."""


@dataclass(frozen=True)
class Stretch:
    """Samples without a gap: sample `first + i` was taken at `start_s + i * step_s`, seconds of the stamps' clock.

    `step_s` is the fitted step, not the nominal one: labels speak in stamp time.
    """

    first: int
    start_s: float
    step_s: float


@dataclass(frozen=True)
class About:
    """What is known of a recording beside its samples; empty text where nobody said."""

    person: str = ""
    activity: str = ""
    placement: str = ""
    trial: str = ""
    node: str = ""
    setting: str = ""
    """"staged", "free-living" or empty."""


@dataclass(frozen=True)
class Remark:
    """Something a reader noticed and did not refuse: a short kind ("clipped", "bursts", "rate", …) and a sentence."""

    kind: str
    sentence: str


@dataclass(frozen=True)
class Aside:
    """A column that was watched beside the acceleration, "temperature" or "battery": its first and last values (means
    of the first and last tenth) and its extremes."""

    kind: str
    first: float
    last: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Recording:
    """One sensor's samples, checked.

    `samples`: (n, 3) float64 in g, or int16 counts of the study's own front end where `unit` is "counts".
    `rate_hz`: the nominal rate the logger is taken to have had; `fitted_rate_hz` what the stamps say.
    `rate_known`: False where the fitted rate is within 3 % of no nominal rate; such a recording is not scored.
    `stretches`: at least one, ascending by `first`, the first at sample 0.
    `origin_s`: seconds since 1970 at which the stretches' clock was zero, None where nobody knows.
    `group`: what the nodes of one recording have in common; empty where a recording is one node.
    `calibrated`: whether a calibration made these samples' g true.
    """

    name: str
    samples: np.ndarray
    unit: str
    rate_hz: float
    fitted_rate_hz: float
    rate_known: bool
    stretches: tuple[Stretch, ...]
    clipped: int = 0
    remarks: tuple[Remark, ...] = ()
    sha256: str = ""
    about: About = field(default_factory=About)
    origin_s: float | None = None
    asides: tuple[Aside, ...] = ()
    group: str = ""
    calibrated: bool = False

    def __len__(self) -> int:
        return len(self.samples)

    @property
    def gaps(self) -> int:
        return len(self.stretches) - 1

    @property
    def duration_s(self) -> float:
        """Seconds recorded: samples times their step, gaps left out."""
        ends = [s.first for s in self.stretches[1:]] + [len(self.samples)]
        return sum((end - s.first) * s.step_s for s, end in zip(self.stretches, ends, strict=True))


@dataclass(frozen=True)
class Label:
    """Something that happened: a closed interval in seconds of the recording's clock.

    `kind` is "fall" or "other"; `name` the activity in the user's own word. `end_s` is None for a label that
    holds from end to end of its recording (then `onset_s` is None too). `annotator`: who said so, empty where
    nobody is named; labels of one annotator don't overlap, those of several may.
    """

    kind: str
    name: str
    onset_s: float | None
    end_s: float | None
    comment: str = ""
    annotator: str = ""


@dataclass(frozen=True)
class Trim:
    """Seconds of a recording's clock that are left off at its beginning and at its end: donning, handling."""

    start_s: float = 0.0
    end_s: float = 0.0

    @property
    def total_s(self) -> float:
        return self.start_s + self.end_s
