"""Lines between values and pixels, the time window in view, and where ticks stand.

From arrays of points to what a painter draws, without a Python object a point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import overload

import numpy as np
from PySide6.QtCore import QByteArray, QDataStream, QPointF
from PySide6.QtGui import QPainter, QPolygonF

from app.formatting import MINUS, THIN


@dataclass(frozen=True)
class Scale:
    """`low` lies at pixel `start`, `high` at pixel `end`; `start` may be the larger: values rise."""

    low: float
    high: float
    start: float
    end: float

    @overload
    def pixel(self, value: float) -> float: ...
    @overload
    def pixel(self, value: np.ndarray) -> np.ndarray: ...

    def pixel(self, value: float | np.ndarray) -> float | np.ndarray:
        return self.start + (value - self.low) * ((self.end - self.start) / (self.high - self.low))

    def value(self, pixel: float) -> float:
        return self.low + (pixel - self.start) * ((self.high - self.low) / (self.end - self.start))


@dataclass(frozen=True)
class TimeWindow:
    """A stretch of time in view, seconds. It is moved and zoomed within limits, another window."""

    start: float
    end: float

    @property
    def width(self) -> float:
        return self.end - self.start

    def holds(self, seconds: float) -> bool:
        return self.start <= seconds <= self.end

    def within(self, limits: TimeWindow, least: float) -> TimeWindow:
        """The nearest window inside the limits and no narrower than `least`, its middle kept if possible."""
        width = min(max(self.width, min(least, limits.width)), limits.width)
        start = min(max((self.start + self.end - width) / 2, limits.start), limits.end - width)
        return TimeWindow(start, start + width)

    def zoomed(self, factor: float, about: float) -> TimeWindow:
        """Narrower by `factor`, with the time `about` staying where it is on the screen."""
        return TimeWindow(about - (about - self.start) / factor, about + (self.end - about) / factor)

    def moved(self, by: float) -> TimeWindow:
        return TimeWindow(self.start + by, self.end + by)

    def centred(self, on: float) -> TimeWindow:
        return self.moved(on - (self.start + self.end) / 2)


def nice_step(least: float) -> float:
    """The smallest of 1, 2 or 5 times a power of ten that is at least this; `least` above zero."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * times for times in (1, 2, 5, 10) if power * times >= least * (1 - 1e-9))


def ticks(low: float, high: float, step: float) -> list[float]:
    """Multiples of `step` from `low` to `high`, each computed afresh so that errors don't add up."""
    return [i * step for i in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1)]


def figure(value: float, decimals: int) -> str:
    """A number with just so many decimals: a true minus, no negative zero, thin spaces between thousands."""
    text = f"{value:,.{decimals}f}".replace(",", THIN)
    if text.startswith("-"):
        text = text.replace("-", MINUS) if any(c in "123456789" for c in text) else text[1:]
    return text


def decimals_of(step: float) -> int:
    """Decimals that tell ticks of this step apart."""
    return max(0, -math.floor(math.log10(step) + 1e-9))


def polygon(x: np.ndarray, y: np.ndarray) -> QPolygonF:
    """The way in is Qt's own stream format: how many, then each point as two big-endian doubles."""
    points = np.empty((len(x), 2), ">f8")
    points[:, 0], points[:, 1] = x, y
    made = QPolygonF()
    QDataStream(QByteArray(np.array(len(x), ">u4").tobytes() + points.tobytes())) >> made
    return made


def draw_pieces(painter: QPainter, x: np.ndarray, y: np.ndarray, breaks: np.ndarray) -> None:
    """Lines through the points of each piece; a piece of one point is a dot."""
    ends = [*breaks.tolist(), len(x)]
    start = 0
    for end in ends:
        if end - start == 1:
            painter.drawPoint(QPointF(float(x[start]), float(y[start])))
        elif end > start:
            painter.drawPolyline(polygon(x[start:end], y[start:end]))
        start = end
