"""The sensor's orientation: its axes brought to the wearer's, x forward, y up and z to the right."""

from __future__ import annotations

import numpy as np

from data.problem import Problem
from data.recipe.sections import Axes

STILL_G = 0.05
"""A stretch in which the reading moves about by less than this (root mean square of an axis) is taken as still."""

_NEAR = 1e-3


def axes_fault(axes: Axes) -> tuple[str, str]:
    """The key that is at fault and what it must be; empty where all is well."""
    ways = [any((axes.x, axes.y, axes.z)), any((axes.up, axes.forward)), bool(axes.rotation)]
    if sum(ways) > 1:
        return ("rotation" if ways[2] else "up"), "left out where the axes are given another way"
    if ways[0] and sorted(side.lstrip("-") for side in (axes.x, axes.y, axes.z)) != ["x", "y", "z"]:
        return "x", "given with y and z, each another axis of the sensor"
    if ways[1] and (not axes.up or not axes.forward or axes.up.lstrip("-") == axes.forward.lstrip("-")):
        return "up", "given with forward, another axis of the sensor"
    if ways[2]:
        if len(axes.rotation) != 9:
            return "rotation", "nine numbers, the matrix row by row"
        matrix = np.reshape(axes.rotation, (3, 3))
        if np.abs(matrix @ matrix.T - np.eye(3)).max() > _NEAR or np.linalg.det(matrix) < 0:
            return "rotation", "a rotation: rows of length 1 at right angles, right-handed"
    return "", ""


def matrix_of(axes: Axes) -> np.ndarray | None:
    """(3, 3): wearer's = matrix @ sensor's; None where the axes stay as the sensor has them."""
    if axes.rotation:
        return np.reshape(np.array(axes.rotation), (3, 3))
    if axes.up:
        up, forward = _side(axes.up), _side(axes.forward)
        return np.array([forward, up, np.cross(forward, up)])
    if axes.x:
        return np.array([_side(axes.x), _side(axes.y), _side(axes.z)])
    return None


def between(told: Axes, now: Axes) -> np.ndarray | None:
    """(3, 3): from the axes as they were told to others, both out of the sensor's; None where they are the same."""
    one, other = (np.eye(3) if m is None else m for m in (matrix_of(told), matrix_of(now)))
    found = np.asarray(other @ one.T)
    return None if np.allclose(found, np.eye(3), rtol=0, atol=1e-12) else found


def _side(name: str) -> np.ndarray:
    found = np.zeros(3)
    found["xyz".index(name[-1])] = -1.0 if name.startswith("-") else 1.0
    return found


def turned(samples: np.ndarray, matrix: np.ndarray | None, most: int = 32767) -> np.ndarray:
    """(n, 3) samples in the wearer's axes, of the dtype they had; `most`: the largest count that there is.

    Counts only change places and signs; raises Problem where they would have to be mixed.
    """
    if matrix is None:
        return samples
    if samples.dtype != np.int16:
        return np.asarray(samples @ matrix.T)
    if not np.isin(matrix, (-1.0, 0.0, 1.0)).all():
        raise Problem(
            "axes_counts",
            "Counts of the study's own sensor pass through unchanged and can't be turned by an angle.",
            "Exchange whole axes (x, y, z or up and forward under [axes]), or read them in g.",
        )
    whole = samples.astype(np.int32) @ matrix.astype(np.int32).T
    # −2^(n−1) has no opposite in its width; a sensor sitting the other way would have clipped one count below it.
    return np.minimum(whole, most).astype(np.int16)


def upright_rotation(samples: np.ndarray, forward: str = "") -> tuple[np.ndarray, float]:
    """The rotation that brings a still, upright stretch's mean reading to y, up; and by how many degrees it turns up.

    `samples`: (n, 3) in g, of that stretch. `forward`: the sensor's axis that points forward at least roughly; without
    one the shortest turn is taken, which leaves open where forward is. Raises Problem where the stretch is not still.
    """
    mean = samples.mean(axis=0)
    size = float(np.linalg.norm(mean))
    spread = float(np.sqrt(np.mean(np.var(samples, axis=0))))
    if len(samples) < 2 or spread > STILL_G or not 0.5 <= size <= 2.0:
        raise Problem(
            "not_still",
            f"The stretch is not still: the reading moves about by {spread:.2g} g around {size:.2g} g.",
            "Choose a stretch of a second or more in which the wearer stands upright and still.",
        )
    up = mean / size
    angle = float(np.degrees(np.arccos(np.clip(up[1], -1.0, 1.0))))
    if not forward:
        return _shortest(up), angle
    ahead = _side(forward) - up * (up @ _side(forward))
    if np.linalg.norm(ahead) < 0.2:
        raise Problem(
            "axes_forward",
            f"The axis {forward} points up or down in this stretch, so it can't point forward.",
            "Name another axis.",
            value=forward,
        )
    ahead /= np.linalg.norm(ahead)
    return np.array([ahead, up, np.cross(ahead, up)]), angle


def _shortest(up: np.ndarray) -> np.ndarray:
    """The shortest rotation that brings a unit vector to y (Rodrigues' formula)."""
    y = np.array([0.0, 1.0, 0.0])
    cosine = float(up @ y)
    if cosine < -1 + 1e-12:
        return np.diag([-1.0, -1.0, 1.0])
    x1, x2, x3 = np.cross(up, y)
    skew = np.array([[0, -x3, x2], [x3, 0, -x1], [-x2, x1, 0]])
    # Near the opposite of y the division costs digits: the nearest true rotation takes them back.
    left, _, right = np.linalg.svd(np.eye(3) + skew + skew @ skew / (1 + cosine))
    return np.asarray(left @ right)


def as_axes(rotation: np.ndarray) -> Axes:
    """A rotation as a recipe holds it."""
    return Axes(rotation=tuple(float(v) for v in np.asarray(rotation).ravel()))
