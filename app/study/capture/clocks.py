"""From a node's sample numbers to the computer's clock: offset and drift, by a line under or between what is known.

A message is late by what its way took, never early. So the samples' true times lie on the line that is as high as it
can be and still under all arrivals (the lower envelope; Moon, Skelly and Towsley 1999, INFOCOM, for one-way delays).
With echoes there is such a line from either side, and the truth is between them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Line:
    """`at_0` + `slope` · x."""

    at_0: float
    slope: float

    def at(self, x: float) -> float:
        return self.at_0 + self.slope * x


def lower_envelope(x: np.ndarray, y: np.ndarray) -> Line:
    """The highest line under all points, where their middle is. ValueError for fewer than two different x."""
    order = np.lexsort((y, x))
    hull: list[tuple[float, float]] = []
    for px, py in zip(x[order].tolist(), y[order].tolist(), strict=True):
        if hull and hull[-1][0] == px:
            continue
        while len(hull) > 1 and _turns_right(hull[-2], hull[-1], (px, py)):
            hull.pop()
        hull.append((px, py))
    if len(hull) < 2:
        raise ValueError("a line needs two points")
    middle = float(np.mean(x))
    i = next((i for i in range(len(hull) - 1) if hull[i][0] <= middle <= hull[i + 1][0]), len(hull) - 2)
    (ax, ay), (bx, by) = hull[i], hull[i + 1]
    slope = (by - ay) / (bx - ax)
    return Line(ay - slope * ax, slope)


def _turns_right(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) <= 0


@dataclass(frozen=True)
class ClockFit:
    """A node's clock against the computer's: host = line(node's µs), in µs, give or take `unsure_us`."""

    line: Line
    unsure_us: float

    @property
    def drift_ppm(self) -> float:
        """How much slower the node's clock is than the computer's."""
        return (self.line.slope - 1) * 1e6


def echo_fit(node_us: np.ndarray, asked_us: np.ndarray, answered_us: np.ndarray) -> ClockFit:
    """From echoes: the node's clock, and the host's before and after. Each (n,) float64, unwrapped."""
    origin = float(node_us[0])
    x = node_us - origin
    above = lower_envelope(x, answered_us)
    mirrored = lower_envelope(x, -asked_us)
    slope = (above.slope - mirrored.slope) / 2
    at_0 = (above.at_0 - mirrored.at_0) / 2
    middle = float(np.mean(x))
    width = above.at(middle) + mirrored.at(middle)
    return ClockFit(Line(at_0 - slope * origin, slope), max(width / 2, 0.0))


def arrival_fit(node_us: np.ndarray, arrived_us: np.ndarray) -> ClockFit:
    """Without echoes: what the way took at least stays unknown, so this is late by that. The residual is the median
    lateness above the line."""
    origin = float(node_us[0])
    line = lower_envelope(node_us - origin, arrived_us)
    late = arrived_us - (line.at_0 + line.slope * (node_us - origin))
    return ClockFit(Line(line.at_0 - line.slope * origin, line.slope), float(np.median(late)))


MOST_DRIFT_PPM = 2000.0
LEAST_SPAN_US = 10e6
"""A shorter time, or a drift that no clock has, says nothing of the drift: only the offset is taken then."""


def plausible(fit: ClockFit, node_us: np.ndarray, host_us: np.ndarray) -> ClockFit:
    """The fit, or where its drift is not to be believed, one without drift that is nowhere later than what came."""
    if abs(fit.drift_ppm) <= MOST_DRIFT_PPM and node_us[-1] - node_us[0] >= LEAST_SPAN_US:
        return fit
    late = host_us - node_us
    return ClockFit(Line(float(late.min()), 1.0), float(np.median(late) - late.min()))


def unwrapped_us(times: np.ndarray, around_us: np.ndarray | None = None) -> np.ndarray:
    """A clock modulo 2^32 as if it never started again. `around_us`: host times, for silences longer than a turn."""
    turn = 2.0**32
    steps = np.diff(times.astype(np.float64))
    if around_us is None:
        whole = -np.round(steps / turn)
    else:
        whole = np.round((np.diff(around_us) - steps) / turn)
    return times.astype(np.float64) + np.concatenate([[0.0], np.cumsum(whole) * turn])
