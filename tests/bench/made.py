"""Made signals for measuring: seeded, quick to make, with everything in them that costs an engine time.

Rest, walking, jogging (a low row and an impact at every step), falls and hard landings, in counts of ±4 g, 12 bits.
"""

from __future__ import annotations

import numpy as np

from detect.scoring.corpus import Corpus, corpus_of

COUNTS_PER_G = 512
TOP = 2047


class Maker:
    """Pieces of one wearer's day, (n, 3) in g, at `rate_hz`."""

    def __init__(self, rng: np.random.Generator, rate_hz: float) -> None:
        self.rng, self.rate_hz = rng, rate_hz
        self.up = self._direction()

    def _direction(self) -> np.ndarray:
        v = self.rng.normal(size=3)
        return v / np.linalg.norm(v)

    def _along(self, up: np.ndarray, size: np.ndarray, noise: float) -> np.ndarray:
        return size[:, None] * up + self.rng.normal(0, noise, (len(size), 3))

    def rest(self, seconds: float) -> np.ndarray:
        n = round(seconds * self.rate_hz)
        return self._along(self.up, np.ones(n), 0.012)

    def walk(self, seconds: float) -> np.ndarray:
        t = np.arange(round(seconds * self.rate_hz)) / self.rate_hz
        pace = self.rng.uniform(1.6, 2.0)
        step = 0.22 * np.sin(2 * np.pi * pace * t) + 0.12 * np.sin(4 * np.pi * pace * t + 1) \
            + 0.35 * np.maximum(np.sin(2 * np.pi * pace * t - 0.6), 0.0) ** 12
        return self._along(self.up, 1 + step, 0.06)

    def jog(self, seconds: float) -> np.ndarray:
        t = np.arange(round(seconds * self.rate_hz)) / self.rate_hz
        phase = np.sin(2 * np.pi * self.rng.uniform(2.5, 2.9) * t)
        return self._along(self.up, np.where(phase < -0.2, 0.15, 1 + 1.6 * np.maximum(phase, 0.0) ** 2), 0.15)

    def land(self, flight_s: float, peak_g: float, turned: bool) -> np.ndarray:
        """Flight, an impact with bounces, and rest, in another posture after a fall."""
        n = round(0.3 * self.rate_hz)
        bounces = 1 + (peak_g - 1) * np.exp(-np.arange(n) / (0.05 * self.rate_hz)) * np.abs(
            np.cos(np.arange(n) * self.rng.uniform(0.8, 1.6)))
        drop = self._along(self.up, np.full(round(flight_s * self.rate_hz), 0.3), 0.05)
        if turned:
            self.up = self._direction()
        return np.concatenate((drop, self._along(self.up, bounces, 0.1), self.rest(self.rng.uniform(4, 8))))

    def fall(self) -> np.ndarray:
        return self.land(self.rng.uniform(0.15, 0.4), self.rng.uniform(2.0, 6.0), True)

    def hard_landing(self) -> np.ndarray:
        return self.land(self.rng.uniform(0.05, 0.25), self.rng.uniform(1.5, 3.5), False)


def counted(g: np.ndarray) -> np.ndarray:
    return np.clip(np.floor(g * COUNTS_PER_G + 0.5), -TOP - 1, TOP).astype(np.int16)


Interval = tuple[int, int, int, bool]
"""Recording, first and last sample, whether it is a fall."""


def trials(recordings: int = 470, rate_hz: float = 40.0, seed: int = 1) -> tuple[Corpus, list[Interval]]:
    """Short recordings of one event each, a third of them falls: about 0.25 M samples of 470."""
    rng = np.random.default_rng(seed)
    found, events = [], []
    for i in range(recordings):
        maker = Maker(rng, rate_hz)
        is_fall = i % 8 < 3
        if is_fall:
            parts = [maker.walk(rng.uniform(3, 6)), maker.fall()]
        else:
            kind = rng.integers(5)
            parts = [maker.walk(rng.uniform(2, 5)), maker.jog(6) if kind == 0 else maker.walk(6) if kind == 1
                     else maker.hard_landing() if kind < 4 else maker.rest(6)]
        whole = counted(np.concatenate(parts))
        first = len(parts[0]) if is_fall else 0
        found.append([whole])
        last = len(whole) - 1
        events.append((i, first, min(first + round(3 * rate_hz), last) if is_fall else last, is_fall))
    return corpus_of(found), events


def days(samples: int, events: int, rate_hz: float = 50.0, seed: int = 1,
         recordings: int = 40) -> tuple[Corpus, list[Interval]]:
    """Long recordings of everyday life with labelled falls and hard landings strewn in."""
    rng = np.random.default_rng(seed)
    size = samples // recordings
    share = max(events // recordings, 1)
    found, labels = [], []
    for i in range(recordings):
        maker, parts, n, done = Maker(rng, rate_hz), [], 0, 0
        while n < size:
            if n >= size * (done + 0.5) / share and done < share:
                is_fall = bool(rng.integers(2))
                piece = maker.fall() if is_fall else maker.hard_landing()
                labels.append((i, n, n + len(piece) - 1, is_fall))
                done += 1
            else:
                kind = rng.random()
                seconds = rng.uniform(10, 60)
                piece = maker.rest(seconds * 2) if kind < 0.45 else maker.walk(seconds) if kind < 0.95 \
                    else maker.jog(seconds)
            parts.append(counted(piece))
            n += len(piece)
        found.append([np.concatenate(parts)[:size]])
    return corpus_of(found), [(r, a, min(b, size - 1), f) for r, a, b, f in labels if a < size]
