"""Whose an alarm is, prepared once: every sample of every recording belongs to one event, or to none."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

UNLABELLED = -1
"""Nobody's: unlabelled time."""
UNSCORED = -2
"""Of a recording, or an event, that is left out of the score."""

SHIFT = 32
"""A recording's number stands above this bit of a key, the sample below it; no recording has 2^32 samples."""

Piece = tuple[int, int]
"""First key of a piece, and its owner up to the next piece."""


def keys(recording: np.ndarray, sample: np.ndarray) -> np.ndarray:
    """Places in all recordings, one after the other, as int64: ascending by recording, then by sample."""
    found = recording.astype(np.int64)
    found <<= SHIFT
    found += sample
    return found


def ownership(recording: np.ndarray, is_fall: np.ndarray, first: np.ndarray, last: np.ndarray,
              onset: np.ndarray, scored: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Keys at which the owner changes, ascending, and the owner from each on: an event, UNLABELLED or UNSCORED.

    `first` and `last` are closed and already widened for falls; an event with last < first owns nothing.
    Falls come before other activities; of several of a kind the nearest onset wins, of equally near ones the
    earlier, then the first listed. `scored`: for each recording, whether it counts.
    """
    breaks: list[int] = [-1]
    owners: list[int] = [UNLABELLED]
    order = np.lexsort((np.arange(len(recording)), recording))
    bounds = np.searchsorted(recording[order], np.arange(len(scored) + 1)).tolist()
    for number in range(len(scored)):
        base = number << SHIFT
        if not scored[number]:
            pieces: Sequence[Piece] = [(0, UNSCORED), ((1 << SHIFT) - 1, UNLABELLED)]
        else:
            low, high = bounds[number:number + 2]
            events = [int(i) for i in order[low:high] if first[i] <= last[i]]
            pieces = list(_pieces(events, is_fall, first, last, onset))
        for at, owner in pieces:
            if owner != owners[-1]:
                breaks.append(base + at)
                owners.append(owner)
    return np.array(breaks, dtype=np.int64), np.array(owners, dtype=np.int64)


def _pieces(events: list[int], is_fall: np.ndarray, first: np.ndarray, last: np.ndarray,
            onset: np.ndarray) -> Iterator[Piece]:
    """The pieces of one recording: a sweep over the bounds of its events, with those that hold each piece."""
    starts = sorted(events, key=lambda i: int(first[i]))
    bounds = sorted({int(first[i]) for i in events} | {int(last[i]) + 1 for i in events})
    holding: list[int] = []
    following = 0
    for at, end in pairwise(bounds):
        while following < len(starts) and first[starts[following]] <= at:
            holding.append(starts[following])
            following += 1
        holding = [i for i in holding if last[i] >= at]
        rivals = [i for i in holding if is_fall[i]] or holding
        if rivals:
            yield from _by_onset(rivals, onset, at, end)
        else:
            yield at, UNLABELLED
    if bounds:
        yield bounds[-1], UNLABELLED


def _by_onset(rivals: list[int], onset: np.ndarray, at: int, end: int) -> Iterator[Piece]:
    """Samples at … end−1 shared out among the events that hold them all, each to the nearest onset."""
    ordered = sorted(rivals, key=lambda i: (int(onset[i]), i))
    nearest = [i for n, i in enumerate(ordered) if n == 0 or onset[i] != onset[ordered[n - 1]]]
    # Past the middle between two onsets the later one is nearer; in the middle itself the earlier wins.
    takes_over = [(int(onset[a]) + int(onset[b])) // 2 + 1 for a, b in pairwise(nearest)]
    for owner, begin, until in zip(nearest, [at, *takes_over], [*takes_over, end], strict=True):
        if max(begin, at) < min(until, end):
            yield max(begin, at), owner
