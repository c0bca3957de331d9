"""How long a search still takes, from how fast it went."""

from __future__ import annotations

import time
from collections.abc import Callable

from app.formatting import plural

AT_LEAST_S, AT_LEAST = 1.0, 0.02
"""Nothing is said before so many seconds and such a share: a measured slice."""


class TimeLeft:
    """Hears shares that are done, which take about equal time each.

    Goes by the later half of the time: what an earlier run had worked out is gone through much faster.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._began = clock, clock()
        self._heard: list[tuple[float, float]] = [(0.0, 0.0)]

    def hear(self, share: float) -> None:
        self._heard.append((self._clock() - self._began, share))

    @property
    def seconds(self) -> float | None:
        """None where it is too soon to say."""
        now, share = self._heard[-1]
        since, before = next(one for one in self._heard if one[0] >= now / 2)
        if now < AT_LEAST_S or share - before < AT_LEAST / 2 or share < AT_LEAST:
            return None
        return (1 - share) * (now - since) / (share - before)

    @property
    def words(self) -> str:
        """"about 40 s left"; empty where it is too soon to say."""
        seconds = self.seconds
        return "" if seconds is None else f"about {_rounded(seconds)} left"


def _rounded(seconds: float) -> str:
    if seconds >= 90:
        return plural(round(seconds / 60), "minute")
    return f"{max(round(seconds / 5) * 5, 5)} s"
