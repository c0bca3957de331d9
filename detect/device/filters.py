"""What a part does to an acceleration before it is a count: one-pole low-pass, sampling at its own rate, noise."""

from __future__ import annotations

import math

import numpy as np

from detect.frontend import rate_ratio


def one_pole(g: np.ndarray, rate_hz: float, corner_hz: float) -> np.ndarray:
    """(n, 3) through a one-pole low-pass, at rest on the first sample before it begins.

    Exact for a signal that runs straight from sample to sample (first-order hold), so it holds up to half the rate.
    """
    if len(g) == 0:
        return g
    from scipy.signal import lfilter  # slow to load

    turn = 2 * math.pi * corner_hz / rate_hz
    decay = math.exp(-turn)
    mean = -math.expm1(-turn) / turn
    forward, back = [1 - mean, mean - decay], [1.0, -decay]
    start = (g[:1] - forward[0] * g[:1])
    found, _ = lfilter(forward, back, g, axis=0, zi=start)
    return np.asarray(found)


def sampled(g: np.ndarray, rate_hz: float, target_hz: float) -> np.ndarray:
    """(n, 3) read at another rate with no filter but the part's own: what lies above half of it folds back.

    As long as `frontend.resample` makes it. Between the samples the signal is the one band-limited to half its rate.
    """
    ratio = rate_ratio(rate_hz, target_hz)
    up, down = ratio.numerator, ratio.denominator
    if up == 1 or len(g) == 0:
        return g[::down]
    from scipy.signal import firwin, resample_poly

    window = firwin(20 * up + 1, 1 / up, window=("kaiser", 5.0))
    return np.asarray(resample_poly(g, up, down, axis=0, window=window, padtype="line"))


def noise_g(samples: int, rate_hz: float, density_ug: float, corner_hz: float | None,
            random: np.random.Generator) -> np.ndarray:
    """(samples, 3) of a part's white noise through its one-pole low-pass, in g; without one, in half the rate."""
    if corner_hz is None:
        return np.asarray(random.standard_normal((samples, 3)) * density_ug * 1e-6 * math.sqrt(rate_hz / 2))
    from scipy.signal import lfilter

    size = density_ug * 1e-6 * math.sqrt(math.pi / 2 * corner_hz)
    decay = math.exp(-2 * math.pi * corner_hz / rate_hz)
    white = random.standard_normal((samples, 3)) * math.sqrt(1 - decay * decay)
    if samples:
        white[0] /= math.sqrt(1 - decay * decay)  # in full swing from the first sample on
    return np.asarray(lfilter([1.0], [1.0, -decay], white, axis=0) * size)
