"""What came of all recordings in each of many devices: figures, how they spread, who meets a limit, what flips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from detect.device.spread.spread import FIGURES
from detect.scoring.intervals import LEVEL, Estimate, Interval, normal_quantile, proportion
from detect.scoring.score import CAUGHT, FALSE_ALARM, MISSED, QUIET

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)
UNLABELLED = FIGURES[-1]
BINS = 30


@dataclass(frozen=True, eq=False)
class Outcomes:
    """`outcome` (D, E) uint8: a code for each event in each device; `unlabelled` (D,) in `hours` of unlabelled time,
    which were `setting`."""

    outcome: np.ndarray
    unlabelled: np.ndarray
    hours: float
    setting: str

    def __len__(self) -> int:
        return len(self.outcome)

    def some(self, which: slice | np.ndarray) -> Outcomes:
        return replace(self, outcome=self.outcome[which], unlabelled=self.unlabelled[which])

    def matrices(self) -> np.ndarray:
        """(D, 4): tp, fn, fp, tn of each device."""
        return np.column_stack([np.count_nonzero(self.outcome == code, axis=1)
                                for code in (CAUGHT, MISSED, FALSE_ALARM, QUIET)])

    def figure(self, name: str) -> np.ndarray:
        """One of FIGURES for each device, (D,); NaN where there are no data for it."""
        tp, fn, fp, tn = self.matrices().T
        if name == UNLABELLED:
            return self.unlabelled / self.hours * 24 if self.hours > 0 else np.full(len(self), np.nan)
        sensitivity, specificity = _share(tp, tp + fn), _share(tn, fp + tn)
        return {"sensitivity": sensitivity, "specificity": specificity,
                "youden_j": sensitivity + specificity - 1}[name]


def _share(part: np.ndarray, whole: np.ndarray) -> np.ndarray:
    return np.divide(part, whole, out=np.full(len(part), np.nan), where=whole > 0)


@dataclass(frozen=True)
class Limit:
    """What a device is held to: at least so much of a figure, of unlabelled alarms at most so many."""

    figure: str
    value: float

    @property
    def at_most(self) -> bool:
        return self.figure == UNLABELLED

    def met(self, figures: Sequence[float] | np.ndarray) -> np.ndarray:
        """(D,) bool. A hair is allowed for, so that 0.8 of ten is 0.8."""
        values = np.asarray(figures, dtype=float)
        return values <= self.value + 1e-9 if self.at_most else values >= self.value - 1e-9


@dataclass(frozen=True, eq=False)
class Distribution:
    """How one figure spreads over devices. `quantiles` as QUANTILES, `bounds` their 95 % intervals; `counts` devices
    from `edges[i]` up to `edges[i + 1]`, the last one included; `worst`: a device's number."""

    figure: str
    nominal: float
    mean: float
    sd: float
    quantiles: tuple[float, ...]
    bounds: tuple[Interval, ...]
    worst: int
    worst_value: float
    edges: tuple[float, ...]
    counts: tuple[int, ...]


def distribution(devices: Outcomes, nominal: Outcomes, figure: str) -> Distribution | None:
    """None where there are no data for it, or no device."""
    values, usual = devices.figure(figure), float(nominal.figure(figure)[0])
    if not len(values) or np.isnan(values).any():
        return None
    worst = worst_first(devices, figure)[0]
    counts, edges = np.histogram(values, BINS, _range(values, usual))
    ordered = np.sort(values)
    return Distribution(figure, usual, float(values.mean()), float(values.std()),
                        tuple(np.quantile(values, QUANTILES).tolist()),
                        tuple(_quantile_bounds(ordered, share) for share in QUANTILES), int(worst),
                        float(values[worst]), tuple(edges.tolist()), tuple(counts.tolist()))


def _range(values: np.ndarray, nominal: float) -> tuple[float, float]:
    """From the least to the most, the nominal device's included; never empty."""
    low, high = min(float(values.min()), nominal), max(float(values.max()), nominal)
    return (low, high) if high - low > 1e-6 else (low - 0.01, high + 0.01)


def _quantile_bounds(ordered: np.ndarray, share: float) -> Interval:
    """Between which of the values a quantile of all such devices lies, 95 %: their number below it is binomial
    (order statistics; its normal approximation)."""
    n = len(ordered)
    reach = normal_quantile(LEVEL) * (n * share * (1 - share)) ** 0.5
    low, high = int(np.floor(n * share - reach)) - 1, int(np.ceil(n * share + reach))
    return Interval(float(ordered[max(low, 0)]), float(ordered[min(high, n - 1)]))


def worst_first(devices: Outcomes, figure: str) -> np.ndarray:
    """Numbers of devices, the worst in this figure first; of equal ones the worse in J, then the earlier drawn."""
    values = devices.figure(figure)
    return np.lexsort((np.arange(len(values)), devices.figure("youden_j"), -values if figure == UNLABELLED else values))


def share_within(devices: Outcomes, limit: Limit) -> Estimate | None:
    """The share of devices that meet a limit, with Wilson's interval; None without data."""
    values = devices.figure(limit.figure)
    if not len(values) or np.isnan(values).any():
        return None
    return proportion(int(np.count_nonzero(limit.met(values))), len(values))


def flips(devices: Outcomes, nominal: Outcomes) -> tuple[tuple[int, int], ...]:
    """Events that come out otherwise than in a nominal device, and in how many devices; the most frequent first."""
    number = np.count_nonzero(devices.outcome != nominal.outcome[0], axis=0)
    order = np.lexsort((np.arange(len(number)), -number))
    return tuple((int(event), int(number[event])) for event in order if number[event])


def flipped(devices: Outcomes, nominal: Outcomes, device: int) -> tuple[int, ...]:
    """The events that come out otherwise in one device."""
    return tuple(np.flatnonzero(devices.outcome[device] != nominal.outcome[0]).tolist())
