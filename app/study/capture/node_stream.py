"""The samples of one node in order, and what is missing, by sequence numbers alone.

The same messages give the same answer whenever they come: what runs live and what makes the recording afterwards are
this code, so both see the same gaps.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from app.study.capture.messages import Batch
from detect.firmware.twins.frame import Hello

HELD_MOST = 3
"""Batches ahead of a missing one that are held back for it: lines that reorder do so by few."""

HELD_LONG = 64
"""One so many batches ahead in vain was never this node's: a damaged number."""

RESTART_BATCHES = 8
"""So many batches with numbers from long ago, close together: the node started anew without a greeting."""

OLD_LONG = 8
"""After so many batches that went on, one with a number from long ago was only late, or came twice."""

LATE_SAMPLES = 4096
"""What is lost is known as lost for so long, to tell what is late from what came twice."""

RECENT_BATCHES = 256

NUMBERS_OF_A_START = 4096
"""A node that started anew has numbers below this, and its clock went back: such a batch never continues an old one."""

SURE_MODULUS = 2**31
"""Numbers that start again sooner say nothing of a long silence: turns of them may have been missed."""


@dataclass(frozen=True, eq=False)
class Run:
    """Samples without a gap. `first`: number of the first since the node's start, which is number `start` of it.

    `gap`: samples are missing before it. `time_us`: the node's clock at its first sample, None where nobody said.
    """

    node: int
    start: int
    first: int
    samples: np.ndarray
    gap: bool
    time_us: int | None


@dataclass
class Losses:
    """All in samples, but for `starts`. `late`: came after the gap was made, and stay lost; `duplicates`: came twice.
    """

    received: int = 0
    lost: int = 0
    late: int = 0
    duplicates: int = 0
    strange: int = 0
    """In batches whose numbers fit nowhere."""
    starts: int = 1

    @property
    def share_lost(self) -> float:
        return self.lost / max(self.received + self.lost, 1)


@dataclass
class NodeStream:
    """One node. `modulus`: where its sequence numbers start again."""

    node: int
    modulus: int = 2**32
    losses: Losses = field(default_factory=Losses)
    hello: Hello | None = None
    conflict: bool = False
    """Two boards send under this number."""
    serial_numbers: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._expected: int | None = None
        self._held: dict[int, tuple[Batch, int]] = {}
        self._batches = 0
        self._old: list[tuple[int, Batch, int]] = []
        """With numbers from long ago: the first number, and how many batches there were by then."""
        self._missing: set[int] = set()
        self._recent: dict[int, bytes] = {}
        """What the last batches held, by the number of their first sample."""
        self._clock_us: int | None = None
        self._unsure = self._doubtful = False
        self._patience = 0
        """So many batches may yet come of the start before the last greeting's; 0 where that was no new start."""

    def interrupted(self) -> None:
        """The line was closed for a time. Where numbers don't say how much that was, what comes is a new start."""
        self._count_old()
        self._unsure = self._expected is not None

    def silent(self, seconds: float, rate_hz: float) -> None:
        """Before the next batch nothing came for so long: numbers may have gone round meanwhile."""
        self._doubtful = self.modulus < SURE_MODULUS and seconds * rate_hz > self.modulus / 2

    def greet(self, hello: Hello) -> list[Run]:
        """A greeting: after another `start` all numbers are those of a new start, but for what it overtook."""
        known, self.hello = self.hello, hello
        if hello.serial_number not in self.serial_numbers:
            self.serial_numbers.append(hello.serial_number)
        if known is None or (known.serial_number, known.start) == (hello.serial_number, hello.start):
            return []
        if known.serial_number != hello.serial_number:
            self.conflict = True
        elif self._clock_us is not None:
            self._patience = HELD_MOST
            return []
        return self._start_anew()

    def take(self, batch: Batch) -> list[Run]:
        """The samples that are in order by now; empty where they have to wait or are none."""
        if not len(batch.samples):
            return []
        if self._patience and not self._overtaken(batch):
            return [*self._start_anew(), *self.take(batch)]
        if self._started_anew(batch) or self._may_have_gone_round(batch):
            return [*self._start_anew(), *self.take(batch)]
        if self._expected is None:
            if self.losses.starts > 1 and batch.sequence is not None:
                return self._gather(batch.sequence, batch)
            self._expected = 0 if batch.sequence is None else batch.sequence % self.modulus
        first = self._expected if batch.sequence is None else self._expected + self._distance(batch.sequence)
        self._batches += 1
        for number, (held, since) in list(self._held.items()):
            if self._batches - since > HELD_LONG:
                del self._held[number]
                self.losses.strange += len(held.samples)
        ahead = first - self._expected
        if ahead < 0:
            return self._behind(first, batch)
        self._count_old(self._batches - OLD_LONG)
        if ahead == 0:
            return [self._run(first, batch, gap=False), *self._waiting()]
        return self._over_the_gap() if self._hold(first, batch) else []

    def _hold(self, first: int, batch: Batch) -> bool:
        """Until what comes before it is there; whether that is waited for in vain."""
        if first in self._held:
            self.losses.duplicates += len(batch.samples)
        else:
            self._held[first] = batch, self._batches
        return len(self._held) > HELD_MOST

    def _gather(self, sequence: int, batch: Batch) -> list[Run]:
        """The first batches of a new start: which of them is its beginning shows when there are a few, of numbers that
        may go round meanwhile."""
        self._batches += 1
        origin = next(iter(self._held), sequence % self.modulus)
        first = origin + self._away(sequence, origin)
        if first < 0:  # before the one where they went round
            self._held = {number + self.modulus: one for number, one in self._held.items()}
            first += self.modulus
        if not self._hold(first, batch):
            return []
        self._expected = min(self._held)
        return self._waiting()

    def finish(self) -> list[Run]:
        """Nothing more comes: what was held is taken over the gaps."""
        self._count_old()
        runs = []
        while self._held:
            runs += self._over_the_gap()
        return runs

    def _overtaken(self, batch: Batch) -> bool:
        """Whether the greeting came before it: it goes on exactly where the old start was, by its number and its clock,
        or is what came last once more."""
        self._patience -= 1
        if self._patience == 0 or self._expected is None or batch.sequence is None or batch.time_us is None:
            return False
        ahead = self._distance(batch.sequence)
        goes_on = ahead == 0 and (batch.time_us - (self._clock_us or 0)) % 2**32 < 2**31
        again = ahead == -len(batch.samples) and self._recent.get(self._expected + ahead) == _content(batch)
        return goes_on or again

    def _started_anew(self, batch: Batch) -> bool:
        """The numbers may go on by chance; a clock that went back meanwhile tells."""
        if self._expected is None or batch.sequence is None or batch.time_us is None or self._clock_us is None:
            return False
        back = (self._clock_us - batch.time_us) % 2**32
        return (0 < back < 2**31 and batch.sequence < NUMBERS_OF_A_START and self._expected < NUMBERS_OF_A_START
                and self._distance(batch.sequence) >= 0)

    def _may_have_gone_round(self, batch: Batch) -> bool:
        """After an interruption or a long silence nothing else than a new start is sure. What goes on exactly after a
        silence was only sent late."""
        unsure, doubtful = self._unsure, self._doubtful
        self._unsure = self._doubtful = False
        if self._expected is None or batch.sequence is None:
            return unsure
        return self.modulus < SURE_MODULUS and (unsure or (doubtful and self._distance(batch.sequence) != 0))

    def _distance(self, sequence: int) -> int:
        assert self._expected is not None
        return self._away(sequence, self._expected)

    def _away(self, sequence: int, number: int) -> int:
        """How far a sequence number is from the number of a sample, the shorter way round."""
        half = self.modulus // 2
        return (sequence - number + half) % self.modulus - half

    def _behind(self, first: int, batch: Batch) -> list[Run]:
        assert self._expected is not None
        size, known = len(batch.samples), self._expected - first
        if known < size:  # its end is new: sent again in other pieces
            self.losses.duplicates += known
            rest = Batch(batch.node, batch.sequence, None, batch.samples[known:])
            return [self._run(self._expected, rest, gap=False), *self._waiting()]
        known_already = [self._recent.get(first), *(_content(one) for at, one, _ in self._old if at == first)]
        if _content(batch) in known_already:
            self.losses.duplicates += size
            return []
        self._old.append((first, batch, self._batches))
        if len(self._old) < RESTART_BATCHES:
            return []
        if self._late(*self._old):  # a line that was late by so much
            self._count_old()
            return []
        return self._start_anew()

    def _late(self, *old: tuple[int, Batch, int]) -> bool:
        """Whether most of these were missing: so they are no new start."""
        numbers = [n for at, one, _ in old for n in range(at, at + len(one.samples))]
        return 2 * len(self._missing.intersection(numbers)) >= len(numbers)

    def _count_old(self, until: int | None = None) -> None:
        """What is old, and no new start, was late or came twice. `until`: that came by then, in batches."""
        for first, batch, since in self._old:
            if until is not None and since > until:
                continue
            numbers = set(range(first, first + len(batch.samples)))
            late = len(numbers & self._missing)
            self._missing -= numbers
            self.losses.late += late
            self.losses.duplicates += len(numbers) - late
        self._old = [] if until is None else [one for one in self._old if one[2] > until]

    def _start_anew(self) -> list[Run]:
        """Numbers from long ago that came just before were of the new start already."""
        ours = [one for one in self._old if not self._late(one) and one[0] % self.modulus < NUMBERS_OF_A_START]
        self._old = [one for one in self._old if one not in ours]
        self._patience = 0
        runs = self.finish()
        if self._expected is not None:
            self.losses.starts += 1
        self._expected = self._clock_us = None
        self._missing.clear()
        self._recent.clear()
        for _, batch, _ in sorted(ours, key=lambda one: one[0]):
            runs += self.take(batch)
        return runs

    def _over_the_gap(self) -> list[Run]:
        assert self._expected is not None
        first = min(self._held)
        batch, _ = self._held.pop(first)
        expected = first if self._expected is None else self._expected
        self.losses.lost += first - expected
        recent = range(max(expected, first - LATE_SAMPLES), first)
        self._missing = {number for number in self._missing if number > first - LATE_SAMPLES} | set(recent)
        return [self._run(first, batch, gap=first > expected), *self._waiting()]

    def _waiting(self) -> list[Run]:
        """What was held and is in order now."""
        runs: list[Run] = []
        while self._held and (first := min(self._held)) <= (self._expected or 0):
            batch, _ = self._held.pop(first)
            runs += [self._run(first, batch, gap=False)] if first == self._expected else self._behind(first, batch)
        return runs

    def _run(self, first: int, batch: Batch, *, gap: bool) -> Run:
        self._expected = first + len(batch.samples)
        self._clock_us = batch.time_us
        self.losses.received += len(batch.samples)
        self._recent[first] = _content(batch)
        if len(self._recent) > RECENT_BATCHES:
            del self._recent[next(iter(self._recent))]
        return Run(self.node, self.losses.starts, first, batch.samples, gap, batch.time_us)


def _content(batch: Batch) -> bytes:
    return repr(batch.time_us).encode() + batch.samples.tobytes()


def above_limit(nodes: Sequence[NodeStream], limit: float) -> str:
    """Which nodes lost more than this share, in a sentence; empty for none."""
    above = [f"node {node.node} {100 * node.losses.share_lost:.1f} %" for node in nodes
             if node.losses.share_lost > limit]
    return f"Lost more than the limit of {100 * limit:g} %: {', '.join(above)}." if above else ""
