"""How long a search still takes, from how fast it went."""

from __future__ import annotations

import time
from collections.abc import Callable

from app.formatting import duration, seconds_left

TOLD_FROM = 0.07
"""Before this share is done nothing is said: the first search goes alone, and its share takes another time."""


class TimeLeft:
    """Hears shares that are done, which take about equal time each. `before`: what an earlier run had done, which is
    gone through much faster and says nothing."""

    def __init__(self, before: float = 0.0, clock: Callable[[], float] = time.monotonic) -> None:
        self._before, self._clock = before, clock
        self._from = self._now = (clock(), 0.0)
        self._measuring = before <= 0

    def hear(self, share: float) -> None:
        self._now = self._clock(), share
        if not self._measuring:
            self._from, self._measuring = self._now, share >= self._before

    @property
    def seconds(self) -> float | None:
        """None where it is too soon to say."""
        if self._now[1] - self._from[1] < TOLD_FROM:
            return None
        return seconds_left(1 - self._now[1], self._now[1] - self._from[1], self._now[0] - self._from[0])

    @property
    def words(self) -> str:
        """"about 40 s left", or that it is too soon to say."""
        seconds = self.seconds
        return "the time left is not known yet" if seconds is None else f"about {duration(_rounded(seconds))} left"


def _rounded(seconds: float) -> float:
    """To what can be known."""
    return round(seconds / 60) * 60 if seconds >= 90 else max(round(seconds / 5) * 5, 5)
