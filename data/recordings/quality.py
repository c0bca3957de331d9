"""How good a recording is: what clipped, stuck, dropped out or drifted, in figures that can be sorted and sentences."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from data.problem import counted
from data.recipe.recipe import Recipe
from data.recordings.model import Recording
from data.recordings.orientation import matrix_of
from data.recordings.rest_and_impacts import seconds_of, still_stretches
from data.recordings.sampling import limit_g
from data.recordings.units import REST_HIGH_G, REST_LOW_G, at_rest, clipping_limits

STUCK_S = 3.0
"""An axis that doesn't change for so long while another moves is stuck."""

FROZEN_S = 1.0
"""Three axes that don't change for so long, with movement right before or after, are a dropout."""

MOVES_G = 0.05
DRIFT_C, DRIFT_BATTERY_SHARE = 5.0, 0.1
"""Temperature in degrees, battery as a share of its first value: more than this over a recording is told. Common
practice, no source."""

RATE_ERROR = 0.02
"""A clock off its nominal rate by more than this is told; any is a figure."""

LOUD_MG = 25.0
"""A noise floor above this hides stillness; sensors for this job have some tenths to some mg. Common practice."""


@dataclass(frozen=True)
class Finding:
    """Something to look at: a short kind, a sentence, and where it is worst, seconds of the recording's clock; None
    where it is of the whole recording.
    """

    kind: str
    sentence: str
    at_s: float | None = None


@dataclass(frozen=True)
class Quality:
    """Figures of one recording; None where they could not be told.

    `clipped_s`: time with at least one axis at the limit; `longest_clip_s` without a break. `stuck`: axes that stand
    still, with `stuck_s`. `frozen_s`: time in which nothing came. `rate_error`: share by which the clock is off its
    nominal rate. `rest_g`: |a| at rest. `noise_mg`: the quietest tenth of still seconds, root mean square of an axis.
    """

    name: str
    duration_s: float
    rate_hz: float
    rate_error: float
    gaps: int
    missing_s: float
    clipped: int
    clipped_s: float
    longest_clip_s: float
    stuck: str
    stuck_s: float
    frozen_s: float
    rest_g: float
    noise_mg: float | None
    temperature_drift: float | None
    battery_drift: float | None
    findings: tuple[Finding, ...]

    @property
    def sound(self) -> bool:
        return not self.findings


def quality_of(recording: Recording, recipe: Recipe | None = None, counts_per_g: float | None = None) -> Quality:
    """`recipe`: how it was read, for the logger's limit and the sensor's own axes. `counts_per_g`: of the front end
    that wrote its counts.
    """
    recipe = recipe or Recipe()
    raw, per_g = _as_written(recording, recipe), counts_per_g or 1.0
    at_limit = _at_limit(raw, recording, recipe)
    clips = _runs(at_limit, recording)
    step = recording.stretches[0].step_s
    stuck = _stuck(raw, recording, per_g)
    frozen = _frozen(raw, recording, per_g)
    rest = at_rest(recording.samples)
    in_g = recording.unit == "g" or counts_per_g is not None
    asides = {aside.kind: aside for aside in recording.asides}
    temperature, battery = asides.get("temperature"), asides.get("battery")
    missing = sum(after.start_s - before.start_s - before.step_s * (after.first - before.first)
                  for before, after in pairwise(recording.stretches))
    figures = Quality(
        name=recording.name,
        duration_s=recording.duration_s,
        rate_hz=recording.rate_hz,
        rate_error=recording.fitted_rate_hz / recording.rate_hz - 1,
        gaps=recording.gaps,
        missing_s=missing,
        clipped=int(at_limit.sum()),
        clipped_s=float(at_limit.sum()) * step,
        longest_clip_s=max((end - first for first, end in clips), default=0) * step,
        stuck="".join(axis for axis, found in stuck.items() if found),
        stuck_s=max(_total(found, step) for found in stuck.values()),
        frozen_s=_total(frozen, step),
        rest_g=rest.level / per_g if in_g else float("nan"),
        noise_mg=_noise_mg(recording, per_g) if in_g else None,
        temperature_drift=temperature.last - temperature.first if temperature else None,
        battery_drift=battery.last - battery.first if battery else None,
        findings=(),
    )
    runs = {"clipped": clips, "stuck": [run for found in stuck.values() for run in found], "dropout": frozen}
    places = {kind: _longest(found) for kind, found in runs.items() if found}
    if recording.gaps:
        places["gaps"] = recording.stretches[1].first
    at_s = {kind: float(seconds_of(recording, np.array([sample]))[0]) for kind, sample in places.items()}
    return _with_findings(figures, rest.still, battery.first if battery else None, at_s)


def _total(runs: list[tuple[int, int]], step_s: float) -> float:
    return sum(end - first for first, end in runs) * step_s


def _longest(runs: list[tuple[int, int]]) -> int:
    """Where the longest of them begins."""
    return max(runs, key=lambda run: (run[1] - run[0], -run[0]))[0]


def _as_written(recording: Recording, recipe: Recipe) -> np.ndarray:
    """Samples in the sensor's own axes: that is where it clips and sticks."""
    matrix = matrix_of(recipe.axes)
    return recording.samples if matrix is None else np.asarray(recording.samples @ matrix)


def _at_limit(raw: np.ndarray, recording: Recording, recipe: Recipe) -> np.ndarray:
    if recording.unit == "counts":
        bits = recipe.front_end.bits if recipe.front_end else 16
        low, high = float(-(1 << (bits - 1))), float((1 << (bits - 1)) - 1)
    else:
        low, high = clipping_limits(raw, limit_g(recipe))
        # Turned back and forth, a reading at the limit is off it by rounding.
        low, high = low * (1 - 1e-9), high * (1 - 1e-9)
    return np.asarray(((raw >= high) | (raw <= low)).any(axis=1))


def _runs(where: np.ndarray, recording: Recording) -> list[tuple[int, int]]:
    """First sample and the one after the last of each unbroken row; none reaches across a gap."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], where, [False]]).astype(np.int8)))
    found = []
    breaks = [s.first for s in recording.stretches[1:]]
    for first, end in edges.reshape(-1, 2).tolist():
        cuts = [first, *(b for b in breaks if first < b < end), end]
        found += list(pairwise(cuts))
    return found


def _unchanged(column: np.ndarray) -> np.ndarray:
    """Whether a sample is equal to its neighbour on either side."""
    same = np.diff(column) == 0
    return np.concatenate([[False], same]) | np.concatenate([same, [False]])


def _stuck(raw: np.ndarray, recording: Recording, per_g: float) -> dict[str, list[tuple[int, int]]]:
    """For each axis the runs in which it stood still while another moved."""
    found: dict[str, list[tuple[int, int]]] = {}
    step = recording.stretches[0].step_s
    for i, axis in enumerate("xyz"):
        found[axis] = []
        for first, end in _runs(_unchanged(raw[:, i]), recording):
            if (end - first) * step < STUCK_S or np.ptp(raw[first:end, i]) > 0:
                continue
            others = np.delete(raw[first:end], i, axis=1)
            if others.std(axis=0).max() > MOVES_G * per_g:
                found[axis].append((first, end))
    return found


def _frozen(raw: np.ndarray, recording: Recording, per_g: float) -> list[tuple[int, int]]:
    """Runs during which all axes stood still, between samples that move."""
    step = recording.stretches[0].step_s
    same = np.logical_and.reduce([np.diff(raw[:, i]) == 0 for i in range(3)])
    size = max(2, round(FROZEN_S / step))
    found = []
    for first, end in _runs(np.concatenate([[False], same]), recording):
        if (end - first) * step < FROZEN_S:
            continue
        around = [raw[max(0, first - size) : first], raw[end : end + size]]
        if any(len(piece) > 1 and piece.std(axis=0).max() > MOVES_G * per_g for piece in around):
            found.append((first, end))
    return found


def _noise_mg(recording: Recording, per_g: float) -> float | None:
    spreads = [still.spread_g for still in still_stretches(recording, 0.03 * per_g)]
    return float(np.quantile(spreads, 0.1)) / per_g * 1000 if spreads else None


def _with_findings(q: Quality, still: bool, battery_first: float | None, at_s: Mapping[str, float]) -> Quality:
    found: list[Finding] = []

    def tell(kind: str, sentence: str) -> None:
        found.append(Finding(kind, sentence, at_s.get(kind)))

    if q.clipped:
        longest = f", {q.longest_clip_s * 1000:.0f} ms without a break" if q.longest_clip_s else ""
        tell("clipped", f"{counted(q.clipped, 'sample')} at the limit, {q.clipped_s:.2f} s in all{longest}: peaks are "
             "cut off.")
    if q.stuck:
        tell("stuck", f"Axis {' and '.join(q.stuck)} stands still for {q.stuck_s:.1f} s while another moves.")
    if q.frozen_s:
        tell("dropout", f"All axes stand still for {q.frozen_s:.1f} s between movements: the sensor stopped sending.")
    if q.gaps:
        tell("gaps", f"{counted(q.gaps, 'gap')}, {q.missing_s:.2f} s are missing.")
    if abs(q.rate_error) > RATE_ERROR:
        tell("rate", f"The clock is {100 * q.rate_error:+.2f} % off {q.rate_hz:g} Hz.")
    if still and not REST_LOW_G <= q.rest_g <= REST_HIGH_G:
        tell("rest", f"At rest |a| is {q.rest_g:.2f} g.")
    if q.noise_mg is not None and q.noise_mg > LOUD_MG:
        tell("noise", f"At rest an axis still moves by {q.noise_mg:.0f} mg.")
    if q.temperature_drift is not None and abs(q.temperature_drift) > DRIFT_C:
        tell("temperature", f"The temperature changed by {q.temperature_drift:+.1f}: offsets drift with it.")
    drained = abs(q.battery_drift or 0.0) > DRIFT_BATTERY_SHARE * abs(battery_first or 0.0)
    if q.battery_drift is not None and drained:
        tell("battery", f"The battery changed by {q.battery_drift:+.2f}.")
    return replace(q, findings=tuple(found))
