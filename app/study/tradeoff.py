"""Missed falls against false alarms, over every detector that was tried: which of them no other beats in both."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from app.study.counting import CAUGHT_AT, FALSE_AT, STRAYS_AT, Counter, Counts, Trials
from app.study.device.budget import Cost
from app.study.readout import plain, plain_range
from app.study.spoken import spoken, value_spoken
from detect.figures import figures_of
from detect.intervals import Estimate, proportion, rate
from detect.score import Matrix
from detect.settings import Settings

AGAINST = ("strays", "others")
"""False alarms as strays per 24 h of free-living time, or as a share of other activities."""


@dataclass(frozen=True)
class Trade:
    """One outcome that settings came to. `alarms`: per 24 h, or a share. `cost`: what its strays leave of the battery,
    None where nobody knows how many there are in a day."""

    counts: Counts
    settings: Settings
    missed: Estimate
    alarms: Estimate
    undominated: bool
    in_hand: bool
    cost: Cost | None = None


@dataclass(frozen=True, eq=False)
class TradeOff:
    """Points by fewer missed, then fewer alarms. `why_not`: why there are none."""

    against: str
    trials: Trials
    points: tuple[Trade, ...]
    tried: int
    in_hand: Settings
    why_not: str = ""

    @property
    def undominated(self) -> tuple[Trade, ...]:
        return tuple(point for point in self.points if point.undominated)


def possible(trials: Trials) -> tuple[str, ...]:
    """Which of AGAINST there is data for, what says most about a day first."""
    there = {"strays": trials.free_living_h > 0, "others": trials.others > 0}
    return tuple(one for one in AGAINST if there[one])


def trade_off(counter: Counter, settings: Settings, in_hand: Counts | None, against: str,
              cost_of: Callable[[float], Cost | None] = lambda strays_per_day: None) -> TradeOff:
    """`in_hand`: counts of the settings in hand, None where they weren't counted. `cost_of`: of so many strays a
    day."""
    trials, made = counter.trials, []
    if trials.falls == 0 or against not in possible(trials):
        lacks = _LACKS["falls" if trials.falls == 0 else against]
        return TradeOff(against, trials, (), counter.tried, settings,
                        f"There is {lacks}, so there is nothing to weigh.")
    best: dict[tuple[int, int], tuple[Counts, Settings]] = {}
    for counts, one in sorted(list(counter.outcomes.items()), key=_by_counts):  # noqa: C414 - a thread may add
        best.setdefault((trials.falls - counts[CAUGHT_AT], _alarms(counts, against)), (counts, one))
    mine = None if in_hand is None else (trials.falls - in_hand[CAUGHT_AT], _alarms(in_hand, against))
    least: int | None = None
    for missed, alarms in sorted(best):
        counts, one = best[missed, alarms]
        undominated = least is None or alarms < least
        least = alarms if undominated else least
        share = proportion(missed, trials.falls)
        assert share is not None
        here = mine == (missed, alarms)
        cost = cost_of(24 * counts[STRAYS_AT] / trials.free_living_h) if trials.free_living_h > 0 else None
        made.append(Trade(counts, settings if here else one, share, _estimate(alarms, trials, against), undominated,
                          here, cost))
    return TradeOff(against, trials, tuple(made), counter.tried, settings)


def _by_counts(outcome: tuple[Counts, Settings]) -> Counts:
    return outcome[0]


_LACKS = {"falls": "no labelled fall", "strays": "no free-living time", "others": "no other activity"}


def _alarms(counts: Counts, against: str) -> int:
    return counts[STRAYS_AT if against == "strays" else FALSE_AT]


def _estimate(alarms: int, trials: Trials, against: str) -> Estimate:
    """Garwood's interval for a rate, Wilson's for a share."""
    found = rate(alarms, trials.free_living_h / 24) if against == "strays" else proportion(alarms, trials.others)
    assert found is not None
    return found


def differences(settings: Settings, other: Settings) -> str:
    """What is different about `settings`, in words: "impact at least 2.20 g, still below 0.20 g"."""
    parts = [f"{spoken(key)} {value_spoken(key, settings[key])}" for key in settings if settings[key] != other[key]]
    return ", ".join(parts) or "the settings in hand"


def j_of(counts: Counts, trials: Trials) -> tuple[str, str]:
    """Youden's J and its interval in words."""
    caught, false, _ = counts
    found = figures_of(Matrix(caught, trials.falls - caught, false, trials.others - false)).youden_j
    return plain(found), plain_range(found)
