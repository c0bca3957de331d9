"""The mechanics falls are built from: free flight, the toppling rod, the half-sine of a landing.

Classical mechanics throughout; readings are specific force in g, so free flight reads nothing and rest
reads one g up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from data.recordings.model import STANDARD_GRAVITY as GRAVITY


def flight_s(height_m: float, support: float = 0.0, start_mps: float = 0.0) -> float:
    """How long a drop takes, t = √(2h/g) from rest; a support carries its share of the weight all the way."""
    return (arrival_mps(height_m, support, start_mps) - start_mps) / (GRAVITY * (1 - support))


def arrival_mps(height_m: float, support: float = 0.0, start_mps: float = 0.0) -> float:
    """How fast it arrives, v = √(2gh) from rest, less what the support takes."""
    return math.sqrt(start_mps**2 + 2 * GRAVITY * (1 - support) * height_m)


def half_sine(area: float, seconds: float, rate_hz: float) -> np.ndarray:
    """A pulse of that area over that time, in area units a second; peak πA/(2D).

    Sampled at the middle of each step and scaled so that the sum is the area whatever the step.
    """
    n = max(1, round(seconds * rate_hz))
    shape = np.sin(np.pi * (np.arange(n) + 0.5) / n)
    return shape * (area * rate_hz / shape.sum())


@dataclass(frozen=True)
class Rod:
    """A rigid uniform rod that topples about its foot, with a sensor at some height along it.

    θ'' = 3g/(2L)·sin θ. At two thirds of its length the sensor reads nothing across the rod, and falls as
    fast as a free body dropped from the same height.
    """

    length_m: float
    sensor_m: float

    @classmethod
    def with_sensor_at(cls, sensor_m: float) -> Rod:
        """The rod whose two-thirds point is that high."""
        return cls(1.5 * sensor_m, sensor_m)

    def omega(self, theta: np.ndarray, start_rad: float, start_radps: float) -> np.ndarray:
        """Angular speed at an angle, from energy: ω² = ω₀² + 3g/L·(cos θ₀ − cos θ)."""
        gained = 3 * GRAVITY / self.length_m * (math.cos(start_rad) - np.cos(theta))
        return np.sqrt(np.maximum(start_radps**2 + gained, 0.0))

    def topple(self, start_rad: float, start_radps: float, end_rad: float,
               rate_hz: float) -> tuple[np.ndarray, np.ndarray]:
        """Angle and angular speed on an even grid from start to end; start_rad or start_radps must not be
        zero.

        Time is the integral of dθ/ω, taken over √(θ − θ₀) so that a start from rest has no pole.
        """
        edges = np.linspace(0.0, math.sqrt(end_rad - start_rad), 2001)
        middle = (edges[1:] + edges[:-1]) / 2
        steps = 2 * middle * np.diff(edges) / self.omega(start_rad + middle**2, start_rad, start_radps)
        when = np.concatenate(([0.0], np.cumsum(steps)))
        n = max(1, round(when[-1] * rate_hz))
        theta = start_rad + np.interp((np.arange(n) + 0.5) * (when[-1] / n), when, edges) ** 2
        return theta, self.omega(theta, start_rad, start_radps)

    def reading(self, theta: np.ndarray, omega: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """What the sensor reads in g along the rod (up is positive) and across it (the way it falls is positive)."""
        along = np.cos(theta) - self.sensor_m * omega**2 / GRAVITY
        across = np.sin(theta) * (3 * self.sensor_m / (2 * self.length_m) - 1)
        return along, across


def turning(fraction: np.ndarray) -> np.ndarray:
    """The smoothest way from 0 to 1 that starts and ends at rest (minimum jerk)."""
    return fraction**3 * (10 - 15 * fraction + 6 * fraction**2)
