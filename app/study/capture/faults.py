"""What goes wrong on a line, made on purpose: for the simulator, and for a proxy between two programs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from itertools import pairwise

import numpy as np

from data.problem import Problem


@dataclass(frozen=True)
class Faults:
    """Each a probability a message, 0 for never. `loss`: it never comes. `duplicate`: it comes twice. `reorder`: it
    comes after the next one. `garbage`: random bytes stand before it. `damage`: one of its bits is another.
    """

    loss: float = 0.0
    duplicate: float = 0.0
    reorder: float = 0.0
    garbage: float = 0.0
    damage: float = 0.0


KINDS = tuple(one.name for one in fields(Faults))


def faults_of(text: str) -> Faults:
    """"loss 2, damage 0.5": kinds, each with how many of a hundred messages; empty for none. Problem (kind "option")
    names what makes no sense."""
    found: dict[str, float] = {}
    for part in filter(None, (one.strip() for one in text.replace("%", " ").split(","))):
        kind, _, number = part.replace("=", " ").partition(" ")
        try:
            percent = float(number)
        except ValueError:
            percent = -1.0
        if kind not in KINDS or not 0 <= percent <= 100:
            raise Problem("option", f'"{part}" is not a fault of a line.', f"Write {', '.join(KINDS)}, each with a "
                          'percentage of messages, such as "loss 2, damage 1".', value=part)
        found[kind] = percent / 100
    return Faults(**found)


@dataclass
class FaultyLine:
    """Messages in, messages as they arrive out. `never_came` and `came_twice` keep what was done, in order."""

    faults: Faults
    seed: int = 0
    never_came: list[bytes] = field(default_factory=list)
    came_twice: list[bytes] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._dice = np.random.default_rng(self.seed)
        self._behind: bytes | None = None

    def take(self, messages: Sequence[bytes]) -> list[bytes]:
        found: list[bytes] = []
        for message in messages:
            f = self.faults
            lost, twice, later, noisy, broken = self._dice.random(5) < (f.loss, f.duplicate, f.reorder, f.garbage,
                                                                        f.damage)
            if lost or broken:
                self.never_came.append(message)
            if lost:
                continue
            sent = [self._damaged(message)] if broken else [message]
            if twice and not broken:
                self.came_twice.append(message)
                sent *= 2
            if noisy:
                sent.insert(0, self._noise(message))
            if later and self._behind is None:
                self._behind = b"".join(sent)
                continue
            found += sent
            if self._behind is not None:
                found.append(self._behind)
                self._behind = None
        return found

    def rest(self) -> list[bytes]:
        """What still waits for a message to come after."""
        behind, self._behind = self._behind, None
        return [] if behind is None else [behind]

    def pieces(self, messages: Sequence[bytes]) -> list[bytes]:
        """The same bytes in other pieces: split and merged writes."""
        data = b"".join(messages)
        cuts = np.sort(self._dice.integers(0, len(data) + 1, max(1, len(data) // 40)))
        bounds = [0, *cuts.tolist(), len(data)]
        return [data[a:b] for a, b in pairwise(bounds) if b > a]

    def _damaged(self, message: bytes) -> bytes:
        """One bit of its content is another; the byte that ends it stays, so that only this message is lost."""
        data = bytearray(message)
        at = int(self._dice.integers(0, len(data) - 1))
        # Whether a digit of a checksum is a capital says nothing: such a line would still be whole.
        bits = [bit for bit in range(7) if data[at] ^ 1 << bit not in (0, 10, 13) and not (bit == 5 and data[at] >= 64)]
        data[at] ^= 1 << bits[int(self._dice.integers(len(bits)))]
        return bytes(data)

    def _noise(self, message: bytes) -> bytes:
        """Random bytes that end where a message would."""
        return self._dice.integers(1, 256, 12, np.uint8).tobytes().replace(b"\n", b"\x01") + message[-1:]
