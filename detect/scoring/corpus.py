"""All recordings in counts, one after the other: what the engine runs over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class Corpus:
    """Samples of every recording in order, without a hole in the array; `stretch_first` tells where gaps are.

    `counts` (n, 3) int16; `stretch_first` (S,) int64, ascending: the place in `counts` of each gap-free
    stretch's first sample; `recording_first` (R + 1,) int64: the place of each recording's first sample, and n
    at the end. A recording's first sample, if it has any, begins a stretch. ValueError if they don't fit together.
    """

    counts: np.ndarray
    stretch_first: np.ndarray
    recording_first: np.ndarray

    def __post_init__(self) -> None:
        n, first, recordings = len(self.counts), self.stretch_first, self.recording_first
        contiguous = self.counts.flags.c_contiguous and self.counts.shape == (n, 3)
        if self.counts.dtype != np.int16 or not contiguous:
            raise ValueError("counts must be a contiguous (n, 3) array of int16.")
        sizes = np.diff(recordings)
        if len(recordings) == 0 or recordings[0] != 0 or recordings[-1] != n or np.any(sizes < 0):
            raise ValueError("recording_first must ascend from 0 to the number of samples.")
        if np.any(np.diff(first) <= 0) or not np.all(np.isin(recordings[:-1][sizes > 0], first)):
            raise ValueError("stretch_first must ascend, and every recording's first sample be in it.")
        if len(first) and (first[0] != 0 or first[-1] >= n):
            raise ValueError("stretch_first must begin at 0 and lie within the samples.")

    @property
    def samples(self) -> int:
        return len(self.counts)

    @property
    def stretch_stop(self) -> np.ndarray:
        """The place after each stretch's last sample, (S,)."""
        return np.append(self.stretch_first, self.samples)[1:]

    @property
    def recordings(self) -> int:
        return len(self.recording_first) - 1


def corpus_of(recordings: Sequence[Sequence[np.ndarray]]) -> Corpus:
    """A corpus from each recording's stretches of counts, (n, 3) int16; both may be empty."""
    stretches = [np.asarray(stretch).reshape(-1, 3) for recording in recordings for stretch in recording]
    for stretch in stretches:
        if len(stretch) and stretch.dtype != np.int16:
            raise ValueError("A stretch must hold int16 counts.")
    counts = np.concatenate([np.empty((0, 3), np.int16), *stretches]).astype(np.int16, copy=False)
    lengths = np.array([len(stretch) for stretch in stretches], dtype=np.int64)
    firsts = np.cumsum(lengths) - lengths
    sizes = [sum(len(stretch) for stretch in recording) for recording in recordings]
    return Corpus(np.ascontiguousarray(counts), firsts[lengths > 0],
                  np.concatenate(([0], np.cumsum(sizes, dtype=np.int64))).astype(np.int64))
