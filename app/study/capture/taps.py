"""Nodes that were tapped together, three times: the shift between their clocks, by cross-correlation.

For nodes whose clocks were not asked by echo: their samples stand where their messages arrived, which is late by the
way those took. A tap reaches all nodes at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from data.recordings.model import Recording

MOST_SHIFT_S = 1.0
"""No way of messages takes longer; taps are less than this apart or more, never about it."""

FINE = 4
"""Steps of the common grid in one sample."""

CLEAR = 1.25
"""So many times as high as the next best shift a shift has to be. Three even taps matched by two give 1.5."""

STRONG_G = 0.5
"""A tap is at least so far from rest."""


@dataclass(frozen=True)
class TapShift:
    """A recording's clock is late by `shift_s` against the first one's, give or take `unsure_s`."""

    recording: str
    shift_s: float
    unsure_s: float


def tap_shifts(recordings: list[Recording]) -> list[TapShift]:
    """Of each recording but the first; empty where one of them shows no taps, or no shift that is clear."""
    if len(recordings) < 2:
        return []
    step = 1 / (FINE * max(one.rate_hz for one in recordings))
    start = max(one.stretches[0].start_s for one in recordings) - MOST_SHIFT_S
    end = min(_end(one) for one in recordings) + MOST_SHIFT_S
    grid = np.arange(start, end, step)
    signals = [_away_from_rest(one, grid) for one in recordings]
    if len(grid) < 2 or any(float(signal.max()) < STRONG_G for signal in signals):
        return []
    found = []
    for one, signal in zip(recordings[1:], signals[1:], strict=True):
        shift = _shift(signals[0], signal, round(MOST_SHIFT_S / step))
        if shift is None:
            return []
        found.append(TapShift(one.name, shift * step, 0.5 / one.rate_hz))
    return found


def _end(one: Recording) -> float:
    last = one.stretches[-1]
    return last.start_s + (len(one) - 1 - last.first) * last.step_s


def _away_from_rest(one: Recording, grid: np.ndarray) -> np.ndarray:
    """How far the magnitude is from its median, on the grid; 0 where there are no samples."""
    magnitude = np.linalg.norm(np.asarray(one.samples, np.float64), axis=1)
    away = np.abs(magnitude / max(float(np.median(magnitude)), 1e-9) - 1)
    firsts = [stretch.first for stretch in one.stretches] + [len(one)]
    times = np.concatenate([stretch.start_s + stretch.step_s * np.arange(end - stretch.first)
                            for stretch, end in zip(one.stretches, firsts[1:], strict=True)])
    return np.interp(grid, times, away, left=0.0, right=0.0)


def _shift(first: np.ndarray, other: np.ndarray, most: int) -> int | None:
    """Steps by which `other` is late; None where no shift is clearly the best."""
    size = len(first) + len(other)
    product = np.fft.irfft(np.fft.rfft(other, size) * np.conj(np.fft.rfft(first, size)), size)
    both = np.concatenate([product[-most:], product[:most + 1]])
    best = int(np.argmax(both))
    near = 2 * FINE
    rest = np.concatenate([both[:max(best - _foot(both, best, -1, near), 0)], both[best + _foot(both, best, 1, near):]])
    if both[best] <= 0 or (len(rest) and both[best] < CLEAR * float(rest.max())):
        return None
    return best - most


def _foot(both: np.ndarray, best: int, way: int, least: int) -> int:
    """How far the best one's own hill reaches that way."""
    at = best
    while 0 < at < len(both) - 1 and both[at + way] <= both[at]:
        at += way
    return max(abs(at - best), least)
