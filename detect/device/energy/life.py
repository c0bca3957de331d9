"""The life of an alarm as a what-if: who cancels, what the station hears, and how many seconds later."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from detect.device.quantities import Values, rows_of
from detect.firmware.twins.alarm import Alarm, AlarmSettings

QUANTITIES = rows_of("life")

GIVEN_UP_S = 3600.0
"""An alarm that nobody has heard for so long is counted as unheard."""

FATES = ("heard", "withdrawn", "cancelled", "swallowed", "unheard")
"""What becomes of an alarm: `withdrawn` was heard, with word from the wearer that it was none; `swallowed` came while
another was under way."""


@dataclass(frozen=True)
class Told:
    """An alarm of the detector in a recording: when it was decided, whether a fall was behind it, and when its impact
    was."""

    time_s: float
    fall: bool
    impact_s: float


@dataclass(frozen=True)
class Fate:
    """One of FATES; seconds from the impact until the station knew, None where it never did; how often it was sent."""

    fate: str
    lost_s: float | None = None
    sends: int = 0

    @property
    def reached_the_station(self) -> bool:
        return self.fate in ("heard", "withdrawn")


def alarm_settings(values: Values) -> AlarmSettings:
    """The life's integers, as plf_alarm_settings has them."""
    def ms(key: str) -> int:
        return round(1000 * values.number(key))

    return AlarmSettings(ms("life.cancel_s"), ms("life.resend_s"), round(values.number("life.sends")),
                         ms("life.slow_s"), ms("life.rest_s"))


def fates_of(alarms: Sequence[Told], values: Values, seed: int) -> list[Fate]:
    """What becomes of each alarm of one recording, in order of time. The same seed gives the same fates."""
    dice = np.random.default_rng([seed, 0])
    # Drawn before anything happens, and all for every alarm: a longer window changes nobody's mind.
    people = [_Wearer(dice, values, one.fall) for one in alarms]
    life = _Life(alarms, people, values, np.random.default_rng([seed, 1]), Reach(values, seed))
    return life.fates


class Reach:
    """Whether a station can be reached: times in reach and out of it follow each other, each as long as chance has it
    (exponential; the two-state line of Gilbert 1960). Asked in order of time."""

    def __init__(self, values: Values, seed: int) -> None:
        self._dice = np.random.default_rng([seed, 2])
        self._share = values.number("life.outage_pct") / 100
        self._out_s = 60 * values.number("life.outage_min")
        self._out = bool(self._dice.random() < self._share)
        self._until_s = self._lasts()

    def _lasts(self) -> float:
        if not self._share:
            return math.inf
        mean = self._out_s if self._out else self._out_s * (1 - self._share) / self._share
        return float(self._dice.exponential(mean))

    def at(self, time_s: float) -> bool:
        while time_s >= self._until_s:
            self._out = not self._out
            self._until_s += self._lasts()
        return not self._out


def expected_sends(values: Values) -> float:
    """How often an alarm is sent in the mean until the station has acknowledged.

    In reach 1/p sends of which each arrives with p. Out of reach, for an exponential time of mean T, every send before
    its end besides: Σ exp(−tₖ/T) over the times of the sends, first every `resend_s`, then every `slow_s`. While an
    acknowledgement is on its way it is sent again.
    """
    number = values.number
    resend, slow, mean = number("life.resend_s"), number("life.slow_s"), 60 * number("life.outage_min")
    # The word that nobody has heard is a send too.
    first, fast = round(number("life.sends")) + 1, math.exp(-resend / mean)
    lost = (1 - fast ** first) / (1 - fast) \
        + math.exp(-((first - 1) * resend + slow) / mean) / -math.expm1(-slow / mean)
    again = max(math.ceil(number("life.answer_s") / resend) - 1, 0)
    return 1 / (number("life.heard_pct") / 100) + number("life.outage_pct") / 100 * lost + again


class _Wearer:
    """Whether and when this wearer presses the button."""

    def __init__(self, dice: np.random.Generator, values: Values, fell: bool) -> None:
        share = values.number("life.falls_cancelled_pct" if fell else "life.others_cancelled_pct") / 100
        presses, spread = dice.random() < share, 0.5 + dice.random()
        self.after_s = spread * values.number("life.press_s") if presses else None


class _Life:
    """One recording's alarms through one device; time jumps from one thing that happens to the next."""

    def __init__(self, alarms: Sequence[Told], people: Sequence[_Wearer], values: Values,
                 line: np.random.Generator, reach: Reach) -> None:
        self._alarm = Alarm(alarm_settings(values))
        self._alarms, self._people, self._values, self._line = alarms, people, values, line
        self._reach, self._sends = reach, [0] * len(alarms)
        self._press_ms: float | None = None
        self._answer_ms: float | None = None
        self._current = 0
        found: dict[int, Fate] = {}
        for i, one in enumerate(alarms):
            self._until(1000 * one.time_s, found)
            if self._alarm.stage != "armed":
                found[i] = Fate("swallowed")
            self._do(self._alarm.step(round(1000 * one.time_s), "fall", i), 1000 * one.time_s, found)
        if alarms:
            self._until(1000 * (alarms[-1].time_s + GIVEN_UP_S), found)
        self.fates = [replace(found.get(i, Fate("unheard")), sends=self._sends[i]) for i in range(len(alarms))]

    def _until(self, end_ms: float, found: dict[int, Fate]) -> None:
        while True:
            due = self._alarm.due_ms()
            times = [("time", None if due is None else float(self._alarm.since + due)), ("cancel", self._press_ms),
                     ("acknowledge", self._answer_ms)]
            coming = [(at, what) for what, at in times if at is not None]
            # At the same moment an input goes before the time, as in the C.
            at, what = min(coming, key=lambda pair: (pair[0], pair[1] == "time"), default=(end_ms, ""))
            if at >= end_ms or not what:
                return
            if what == "cancel":
                self._press_ms = None
            elif what == "acknowledge":
                self._answer_ms = None
            self._do(self._alarm.step(round(at), what, self._alarm.number), at, found)

    def _do(self, action: str, now_ms: float, found: dict[int, Fate]) -> None:
        number = self._alarm.number
        if action in ("warn", "send") and self._current != number + 1:
            self._current, self._answer_ms = number + 1, None
            after = self._people[number].after_s
            self._press_ms = None if after is None else now_ms + 1000 * after
        sent = action in ("send", "report_undelivered")
        if sent:
            self._sends[number] += 1
        if sent and self._answer_ms is None and self._line.random() < self._values.number("life.heard_pct") / 100 \
                and self._reach.at(now_ms / 1000):
            self._answer_ms = now_ms + 1000 * self._values.number("life.answer_s")
        elif action == "cancel":
            found[number] = Fate("cancelled")
        elif action == "report_delivered":
            self._press_ms = None
            lost = now_ms / 1000 - self._alarms[number].impact_s
            found[number] = Fate("withdrawn" if self._alarm.withdrawn else "heard", lost)


@dataclass(frozen=True)
class Lived:
    """What became of alarms, falls and others apart: how many of each of FATES, and the seconds from impact to
    station."""

    falls: dict[str, int]
    others: dict[str, int]
    median_lost_s: float | None
    worst_lost_s: float | None


def lived(recordings: Sequence[Sequence[Told]], values: Values, seed: int) -> tuple[list[list[Fate]], Lived]:
    """Fates of every recording's alarms, each through a device of its own, and their sum. Seeded."""
    fates = [fates_of(alarms, values, seed * 1_000_003 + i) for i, alarms in enumerate(recordings)]
    pairs = [(told, fate) for alarms, some in zip(recordings, fates, strict=True)
             for told, fate in zip(alarms, some, strict=True)]

    def counted(fall: bool) -> dict[str, int]:
        return {word: sum(told.fall == fall and fate.fate == word for told, fate in pairs) for word in FATES}

    lost = sorted(fate.lost_s for _, fate in pairs if fate.lost_s is not None)
    return fates, Lived(counted(True), counted(False), _median(lost), lost[-1] if lost else None)


def _median(sorted_values: Sequence[float]) -> float | None:
    n = len(sorted_values)
    return None if n == 0 else (sorted_values[(n - 1) // 2] + sorted_values[n // 2]) / 2
