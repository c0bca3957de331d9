"""What a recording is once it has been read: samples on an even grid, and where each one stands in time.

What is known of a recording's clock and sensor beside its file: kept in the study, and undone without a trace.

The samples of a recording may be fetched when they are first asked for: most of what is asked of
thousands of recordings, how long they are, at which rate, what was noticed, needs none.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any, TypeVar

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
    """What is known of a recording beside its samples; empty text where nobody said. `properties`: names and values of
    whatever else the file's name says."""

    person: str = ""
    activity: str = ""
    placement: str = ""
    trial: str = ""
    node: str = ""
    setting: str = ""
    """"staged", "free-living" or empty."""
    properties: tuple[tuple[str, str], ...] = ()

    def told(self, field: str) -> str:
        """What is known by that name, be it one of ours or a property; empty where nothing is."""
        if field != "properties" and field in self.__dataclass_fields__:
            return str(getattr(self, field))
        return dict(self.properties).get(field, "")

    def with_told(self, said: Mapping[str, str]) -> About:
        """The same with these values; names that are none of ours become properties."""
        ours = {key: value for key, value in said.items() if key in OURS}
        others = {key: value for key, value in said.items() if key not in OURS}
        return replace(self, **ours, properties=tuple({**dict(self.properties), **others}.items()))

    def plain(self) -> dict[str, object]:
        """For JSON and TOML, only what is known."""
        said: dict[str, object] = {key: value for key, value in vars(self).items() if value and key != "properties"}
        return said | ({"properties": dict(self.properties)} if self.properties else {})


OURS = ("person", "activity", "placement", "trial", "node", "setting")


@dataclass(frozen=True)
class Remark:
    """Something a reader noticed and did not refuse: a short kind ("clipped", "bursts", "rate", …) and a sentence.

    `field`: what a person can say about it, as a Problem's.
    """

    kind: str
    sentence: str
    field: str = ""

    def advice(self, places: Mapping[str, str]) -> str:
        """The sentence, with the place of `places` where something can be done about it: by field."""
        place = places.get(self.field, "")
        return f"{self.sentence.rstrip('.')}: {place}." if place else self.sentence


@dataclass(frozen=True)
class WatchedColumn:
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

    `samples`: (n, 3) float64 in g, or int16 counts where `unit` is "counts": of the sensor that its recipe states, else
    of the study's own.
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
    asides: tuple[WatchedColumn, ...] = ()
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
        ends = [*(s.first for s in self.stretches[1:]), len(self)]
        return sum((end - s.first) * s.step_s for s, end in zip(self.stretches, ends, strict=True))

    def pieces(self) -> list[np.ndarray]:
        """The samples of each stretch, not copied."""
        return np.split(self.samples, [s.first for s in self.stretches[1:]])


@dataclass(frozen=True)
class Label:
    """Something that happened: a closed interval in seconds of the recording's clock.

    `kind` is "fall" or "other"; `name` the activity in the user's own word. `end_s` is None for a label that
    holds from end to end of its recording (then `onset_s` is None too). `annotator`: who said so, empty where
    nobody is named; labels of one annotator don't overlap, those of several may. `proposed`: its times were computed
    from the signal, and nobody has confirmed them yet.
    """

    kind: str
    name: str
    onset_s: float | None
    end_s: float | None
    comment: str = ""
    annotator: str = ""
    proposed: bool = False

    def plain(self) -> dict[str, str | float | bool | None]:
        """For JSON. `proposed` only where it is so: the digests of older labels stay what they were."""
        said = dict(vars(self))
        return said if self.proposed else {key: value for key, value in said.items() if key != "proposed"}

    @property
    def title(self) -> str:
        """The activity, or the kind where none was named."""
        return self.name or self.kind


@dataclass(frozen=True)
class Trim:
    """Seconds of a recording's clock that are left off at its beginning and at its end: donning, handling."""

    start_s: float = 0.0
    end_s: float = 0.0

    @property
    def total_s(self) -> float:
        return self.start_s + self.end_s


Seconds = TypeVar("Seconds", float, np.ndarray)


@dataclass(frozen=True)
class Shift:
    """Another clock against a recording's own: its t is `offset_s` + (1 + `drift_ppm` / 10⁶) · t here."""

    offset_s: float = 0.0
    drift_ppm: float = 0.0

    def here(self, there_s: Seconds) -> Seconds:
        return self.offset_s + (1 + self.drift_ppm / 1e6) * there_s

    def there(self, here_s: Seconds) -> Seconds:
        return (here_s - self.offset_s) / (1 + self.drift_ppm / 1e6)

    def after(self, first: Shift) -> Shift:
        """The clock that `first` brings to a second one, brought on by this from the second one."""
        more = 1 + self.drift_ppm / 1e6
        return Shift(self.offset_s + more * first.offset_s, (more * (1 + first.drift_ppm / 1e6) - 1) * 1e6)

    def inverse(self) -> Shift:
        """The way back."""
        less = 1 / (1 + self.drift_ppm / 1e6)
        return Shift(-self.offset_s * less, (less - 1) * 1e6)


@dataclass(frozen=True)
class Calibration:
    """`true = (read − offset_g) / gain`, axis by axis.

    `origin`: how it was found. `before_g`, `after_g`: how far |a| was off 1 g at rest, root mean square over the
    `stretches` it was found on. `lacking`: faces that were not seen, whose axes stay as they are.
    """

    offset_g: tuple[float, float, float]
    gain: tuple[float, float, float]
    origin: str
    before_g: float
    after_g: float
    stretches: int
    lacking: tuple[str, ...] = field(default=())


class LaterRecording(Recording):
    """A recording in all else. One that is made of it by `replace`, or sent to another process, has its samples.

    `content`: SHA-256 of the samples; empty for one that is made of it, whose samples may be others.
    """

    content = ""
    _count: int
    _fetch: Callable[[], np.ndarray]

    @classmethod
    def of(cls, content: str, count: int, fetch: Callable[[], np.ndarray], **known: Any) -> LaterRecording:
        """`count`: of samples; `known`: all fields but them."""
        one = cls(samples=np.empty((0, 3)), **known)
        del one.__dict__["samples"]
        one.__dict__.update(content=content, _count=count, _fetch=fetch)
        return one

    def __getattr__(self, name: str) -> Any:
        # Python asks here only for what isn't there.
        if name != "samples" or "_fetch" not in self.__dict__:
            raise AttributeError(name)
        return self.__dict__.setdefault("samples", self._fetch())

    def fetched(self) -> LaterRecording:
        """The same, with its samples."""
        assert self.samples is not None
        return self

    def __len__(self) -> int:
        return len(self.samples) if "samples" in self.__dict__ else self._count

    def __reduce__(self) -> tuple[Any, ...]:
        return Recording, tuple(getattr(self, one.name) for one in fields(Recording))
