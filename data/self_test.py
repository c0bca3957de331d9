"""A sensor's self-test as recorded: it deflects its own mass while the test is on, by so much or it is broken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from data.problem import Problem

_BLOCKS = 200
_CLEAR = 4.0


@dataclass(frozen=True)
class SelfTest:
    """`first`, `last`: samples during which the test was on. `deflection_g`: reading with it less reading without.

    `within`: whether each axis' deflection is what the data sheet allows.
    """

    first: int
    last: int
    deflection_g: tuple[float, float, float]
    within: tuple[bool, bool, bool]

    @property
    def passed(self) -> bool:
        return all(self.within)


def check_self_test(samples: np.ndarray, expected_g: Sequence[tuple[float, float]],
                    on: tuple[int, int] | None = None) -> SelfTest:
    """Hold a recorded self-test against the deflections a data sheet allows: (lowest, highest) in g for each axis.

    `samples`: (n, 3) in g, at rest but for the test. `on`: first and last sample with it on; looked for where not
    given. Raises Problem where no pulse stands out.
    """
    first, last = on or _pulse(samples)
    inside = np.zeros(len(samples), dtype=bool)
    inside[first : last + 1] = True
    if inside.all() or not inside.any():
        raise Problem("self_test", "The test is on in all of the recording or in none.",
                      "Record some seconds without the test before and after.")
    x, y, z = (float(v) for v in np.median(samples[inside], axis=0) - np.median(samples[~inside], axis=0))
    a, b, c = (bool(low <= v <= high) for v, (low, high) in zip((x, y, z), expected_g, strict=True))
    return SelfTest(first, last, (x, y, z), (a, b, c))


def _pulse(samples: np.ndarray) -> tuple[int, int]:
    """The one stretch whose level differs most from the rest, by least squares over all pairs of edges."""
    size = max(1, len(samples) // _BLOCKS)
    count = len(samples) // size
    if count < 8:
        raise Problem("self_test", f"{len(samples)} samples are too few to find a pulse in.", "Record for longer.")
    blocks = samples[: count * size].reshape(count, size, 3).mean(axis=1)
    blocks = blocks - blocks.mean(axis=0)
    total = np.vstack([np.zeros(3), np.cumsum(blocks, axis=0)])
    best, at = 0.0, (0, 0)
    for i in range(1, count - 1):
        width = np.arange(1, count - i)
        inside = total[i + width] - total[i]
        gain = np.sum(inside**2, axis=1) * (1 / width + 1 / (count - width))
        k = int(np.argmax(gain))
        if gain[k] > best:
            best, at = float(gain[k]), (i, i + int(width[k]))
    rest = float(np.sum(blocks**2)) - best
    first, last = at[0] * size, at[1] * size - 1
    if best < _CLEAR * max(rest, 1e-12):
        raise Problem("self_test", "No pulse stands out: the readings are not those of a sensor at rest that tests "
                      "itself once.", "Say from when to when the test was on.")
    return _edge(samples, first, size), _edge(samples, last + 1, size) - 1


def _edge(samples: np.ndarray, near: int, size: int) -> int:
    """The sample within a block or two of `near` at which the level changes most."""
    low, high = max(1, near - 2 * size), min(len(samples) - 1, near + 2 * size)
    steps = np.sum(np.square(np.diff(samples[low - 1 : high + 1], axis=0)), axis=1)
    return low + int(np.argmax(steps))
