"""One ramp of colours for a figure from low to high, the same in light and dark.

A straight line from a deep blue to a pale yellow in OKLab (Ottosson 2020), so that equal steps look equally far
apart. Lightness only rises, and what hue there is lies between blue and yellow, which people with the common kinds
of colour blindness tell apart.
"""

from __future__ import annotations

import numpy as np

LOW, HIGH = (0.28, -0.012, -0.095), (0.93, -0.028, 0.125)
"""L, a, b in OKLab."""

_TO_LMS = np.array([[1.0, 0.3963377774, 0.2158037573], [1.0, -0.1055613458, -0.0638541728],
                    [1.0, -0.0894841775, -1.2914855480]])
_TO_RGB = np.array([[4.0767416621, -3.3077115913, 0.2309699292], [-1.2684380046, 2.6097574011, -0.3413193965],
                    [-0.0041960863, -0.7034186147, 1.7076147010]])


def ramp(shares: np.ndarray) -> np.ndarray:
    """(…) shares from 0 to 1 as (…, 3) uint8 sRGB."""
    share = np.clip(shares, 0, 1)[..., None]
    lab = np.array(LOW) * (1 - share) + np.array(HIGH) * share
    linear = np.clip((lab @ _TO_LMS.T) ** 3 @ _TO_RGB.T, 0, 1)
    coded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.floor(255 * coded + 0.5).astype(np.uint8)
