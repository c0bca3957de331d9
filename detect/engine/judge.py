"""Judging, for many attempts at once: the same integers as `detect/rule/reference.py` gives one by one.

Vectors lie in columns: (3, k) int64.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from detect.rule.integers import COSINE_ONE


def rdiv(a: np.ndarray, n: np.ndarray | int) -> np.ndarray:
    """a/n rounded to the nearest, halves upwards, for |a| up to 2^40 and n up to 4096.

    Doubles do, and several times faster than NumPy's //: numerator and denominator are exact, and a quotient that is
    not whole is at least 1/8192 away from the next whole number, far more than the last place of 2^40.
    """
    quotient = (2 * a + n) / (2 * n)
    return np.floor(quotient, out=quotient).astype(np.int64)


def isqrt(value: np.ndarray) -> np.ndarray:
    """Exact floor of the root of uint64 up to 1.04e19, as int64.

    The double root is off by one at most there: it is below 2^32, and conversion and root each err by 2^-53 of it.
    """
    root = np.sqrt(value.astype(np.float64)).astype(np.uint64)
    root -= root * root > value
    over = root + np.uint64(1)
    root += over * over <= value
    return root.astype(np.int64)


def doubled(v: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each vector scaled by the power of two that brings its largest component to 2^14 or more, and which are not
    zero; those stay so."""
    largest = np.abs(v).max(axis=0)
    _, bits = np.frexp(largest.astype(np.float64))
    return v << np.maximum(15 - bits, 0), largest > 0


@dataclass(frozen=True, eq=False)
class Turn:
    """How far vectors have turned: `dot`, `a_sq`, `b_sq` (k,) int64 after doubling, meaningless where not `speaks`."""

    dot: np.ndarray
    a_sq: np.ndarray
    b_sq: np.ndarray
    speaks: np.ndarray

    def passes(self, cosine: int) -> np.ndarray:
        """|dot|·2^14 and |cosine|·root stay below 5.3e13; |a|²·|b|² only fits unsigned 64 bits."""
        root = isqrt(self.a_sq.astype(np.uint64) * self.b_sq.astype(np.uint64))
        return ~self.speaks | (self.dot * COSINE_ONE <= cosine * root)


def turn(before: np.ndarray, after: np.ndarray) -> Turn:
    """From means before, (3, k) or (3, 1), to means after, (3, k); with a zero vector the check is skipped."""
    b, b_speaks = doubled(before)
    a, a_speaks = doubled(after)
    return Turn((b * a).sum(axis=0), (a * a).sum(axis=0), (b * b).sum(axis=0), b_speaks & a_speaks)


def spread_of(n: np.ndarray, sums: np.ndarray) -> np.ndarray:
    """n·Σ|v|² − |Σv|² of (4, k) sums; n·Σ|v|² ≤ 5.5e16 fits int64."""
    return n * sums[3] - (sums[:3] * sums[:3]).sum(axis=0)
