"""Where a recording's logger came to its end: the reading beyond which it can't tell."""

from __future__ import annotations

import math

import numpy as np

from data.axes import matrix_of
from data.recipe import Recipe
from data.recording import Recording
from data.sampling import limit_g
from data.units import clipping_limits


def clipped_at_g(recording: Recording, recipe: Recipe, counts_per_g: float) -> float:
    """The reading at which it clipped, in g; infinite where it did not. `counts_per_g`: of one that holds counts."""
    if recording.unit == "counts":
        bits = recipe.front_end.bits if recipe.front_end else 16
        top = (1 << (bits - 1)) - 1
        reached = recording.samples.size and (recording.samples.max() >= top or recording.samples.min() < -top)
        return top / counts_per_g if reached else math.inf
    matrix = matrix_of(recipe.axes)
    # It clips on the sensor's own axes.
    raw = recording.samples if matrix is None else np.asarray(recording.samples @ matrix)
    low, high = clipping_limits(raw, limit_g(recipe))
    return min(-low, high)
