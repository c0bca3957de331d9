"""Where strays could have come from: unlabelled monitored time by the hour, of its recording or of the day."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from detect.score import Events
from detect.timeline import Timeline

HOUR_S = 3600.0


def hour_of(timeline: Timeline, sample: int, since_s: float = 0.0) -> int:
    """In which hour since the recording's first sample, counted from 0; a gap counts as time.

    `since_s`: how long before that sample counting began, such as at midnight.
    """
    return int((timeline.seconds(sample) - timeline.seconds(0) + since_s) // HOUR_S)


def unlabelled_by_hour(events: Events, timelines: Sequence[Timeline],
                       since_s: Sequence[float] | None = None) -> tuple[np.ndarray, ...]:
    """For each recording its unlabelled hours in the first hour since its first sample, the second, …

    They add up to `Events.unlabelled_h`. `since_s`: as in `hour_of`, one a recording; unless told 0.
    """
    order = np.lexsort((events.wide_first, events.recording))
    order = order[events.wide_first[order] <= events.wide_last[order]]
    found = []
    for number, line in enumerate(timelines):
        mine = order[slice(*np.searchsorted(events.recording[order], [number, number + 1]))]
        places, labelled = _labelled(events.wide_first[mine], events.wide_last[mine])
        start = line.seconds(0)
        since = 0.0 if since_s is None else since_s[number]
        hours = hour_of(line, line.count - 1, since) + 1
        edges = line.at_or_after(start - since + HOUR_S * np.arange(hours + 1))
        edges[-1] = line.count
        free = np.diff(edges) - np.diff(np.interp(edges, places, labelled))
        found.append(free * (line.duration_s / HOUR_S / line.count))
    return tuple(found)


def _labelled(first: np.ndarray, last: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How many samples below a place some interval holds: places and counts to interpolate between, exactly.

    `first` ascends; intervals are closed and may overlap.
    """
    reached = np.maximum.accumulate(np.append(-1, last + 1))[:-1]
    begin = np.maximum(first, reached)
    fresh = np.maximum(last + 1 - begin, 0)
    below = np.cumsum(fresh)
    places = np.column_stack([begin, begin + fresh]).ravel()
    counts = np.column_stack([below - fresh, below]).ravel()
    if len(places) == 0:
        return np.zeros(1), np.zeros(1)
    return places.astype(float), counts.astype(float)
