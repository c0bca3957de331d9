"""Why an attempt ended as it did: what was measured against what was asked, in counts and physical units.

The stage lane: where the rule was at each sample of a recording, from its attempts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from detect.rule.attempt import Attempt
from detect.rule.front_end import FrontEnd
from detect.rule.integers import COSINE_ONE, Rule
from detect.rule.settings import Unit

ENDED = {"alarm": "alarm", "no_impact": "no impact", "cut_off": "cut off", "active": "active before",
         "tilt": "not turned", "reclined": "not lying", "still": "not still"}
"""Where an attempt stopped, in words."""


@dataclass(frozen=True)
class Margin:
    """One comparison. `measured` and `asked` are physical, in `unit`; `…_integer` the same in counts, samples.

    A measured magnitude is a fraction of counts: the rule compares its square. `measured` is None where the
    check had no data. `spare` is positive where it passed with room, negative where it fell short,
    None where there is nothing to compare. `phrase` is short enough for a table cell.
    """

    name: str
    key: str
    unit: Unit
    measured: float | None
    asked: float
    measured_integer: float | None
    asked_integer: int
    spare: float | None
    passed: bool | None
    phrase: str

    @property
    def shortfall(self) -> float:
        """How far it fell short, as a share of what was asked; of the whole scale for angles and percents."""
        if self.spare is None or self.passed is not False:
            return 0.0
        whole = {Unit.DEGREE: 180.0, Unit.PERCENT: 100.0}.get(self.unit, self.asked)
        return abs(self.spare) / max(whole, 1e-9)


def stopped(attempt: Attempt) -> str:
    """Where it gave up, a key of ENDED; of several failed checks the first, "alarm" if it didn't."""
    return attempt.failed[0] if attempt.ended == "rejected" else attempt.ended


def missing(attempt: Attempt, rule: Rule, front_end: FrontEnd) -> str:
    """By how much it gave up: "0.31 g short", "tilt 38° of 45°"; empty for an alarm."""
    at = stopped(attempt)
    if at in ("alarm", "cut_off"):
        return "" if at == "alarm" else "recording ended before an impact"
    name = "impact" if at == "no_impact" else at
    return next(m.phrase for m in margins(attempt, rule, front_end) if m.name == name)


def margins(attempt: Attempt, rule: Rule, front_end: FrontEnd) -> tuple[Margin, ...]:
    """Every comparison that the attempt came to, in the order of the rule."""
    found: list[Margin] = []
    if attempt.first_low is not None:
        found += _free_fall(attempt, rule, front_end)
    found.append(_impact(attempt, rule, front_end))
    if attempt.first_impact is None:
        return tuple(found)
    if attempt.last_low is not None:
        found.append(_delay(attempt.first_impact - attempt.last_low, rule, front_end))
    for name, is_on, make in (("active", rule.active_on, _active), ("tilt", rule.tilt_on, _tilt),
                              ("reclined", rule.reclined_on, _reclined), ("still", rule.still_on, _still)):
        if is_on:
            passed = None if name in attempt.skipped else name not in attempt.failed
            found.append(make(attempt, rule, front_end, passed))
    return tuple(found)


def tilt_deg(attempt: Attempt) -> float | None:
    """The angle between before and after; None where it was not measured."""
    return angle(attempt.dot, attempt.a_sq, attempt.b_sq)


def reclined_deg(attempt: Attempt) -> float | None:
    """The angle between upright and after; None where it was not measured."""
    return angle(attempt.dot_u, attempt.a_u_sq, attempt.u_sq)


def rms_g(attempt: Attempt, front_end: FrontEnd) -> float | None:
    """Root mean square of the movement about its mean while observing; None where it was not measured."""
    rms = _rms(attempt)
    return None if rms is None else front_end.g(rms)


def angle(dot: int | None, one_sq: int | None, other_sq: int | None) -> float | None:
    """Degrees between two vectors from their product and squared lengths."""
    if dot is None or one_sq is None or other_sq is None:
        return None
    return math.degrees(math.acos(max(-1.0, min(1.0, dot / math.sqrt(one_sq * other_sq)))))


def _rms(attempt: Attempt) -> float | None:
    if attempt.spread is None or not attempt.n:
        return None
    return math.sqrt(attempt.spread) / attempt.n


# One function a comparison.


def _free_fall(attempt: Attempt, rule: Rule, front_end: FrontEnd) -> list[Margin]:
    """Depth and length. With several rows in one attempt the length runs to the end of the last."""
    assert attempt.first_low is not None
    assert attempt.last_low is not None
    assert attempt.lowest is not None
    low, asked = math.sqrt(attempt.lowest), rule.free_fall
    # The rule "every axis" does not compare the magnitude, so its depth has no threshold.
    spare = None if rule.every_axis else front_end.g(asked - low)
    depth = Margin("low", "free_fall_g", Unit.G, front_end.g(low), front_end.g(asked), low, asked, spare,
                   True, f"down to {_text(front_end.g(low), Unit.G)}")
    length = attempt.last_low - attempt.first_low + 1
    ms, asked_ms = front_end.ms(length), front_end.ms(rule.free_fall_run)
    return [depth, Margin("row", "free_fall_ms", Unit.MS, ms, asked_ms, length, rule.free_fall_run,
                          ms - asked_ms, True, f"low for {_text(ms, Unit.MS)}")]


def _impact(attempt: Attempt, rule: Rule, front_end: FrontEnd) -> Margin:
    square = attempt.highest if attempt.first_impact is None else attempt.peak
    asked = front_end.g(rule.impact)
    passed = attempt.first_impact is not None
    if square is None:
        return Margin("impact", "impact_g", Unit.G, None, asked, None, rule.impact, None, None, "not seen")
    peak = math.sqrt(square)
    spare = front_end.g(peak - rule.impact)
    phrase = f"impact {_text(front_end.g(peak), Unit.G)}" if passed else f"{amount(-spare, Unit.G)} short"
    return Margin("impact", "impact_g", Unit.G, front_end.g(peak), asked, peak, rule.impact, spare,
                  passed, phrase)


def _delay(samples: int, rule: Rule, front_end: FrontEnd) -> Margin:
    ms, asked = front_end.ms(samples), front_end.ms(rule.impact_within)
    return Margin("delay", "impact_within_ms", Unit.MS, ms, asked, samples, rule.impact_within, asked - ms,
                  True, f"{_text(ms, Unit.MS)} after free fall")


def _active(attempt: Attempt, rule: Rule, front_end: FrontEnd, passed: bool | None) -> Margin:
    asked = 100 * rule.active_most / rule.active_window
    if attempt.q is None:
        return _skipped("active", "active_share_pct", Unit.PERCENT, asked, rule.active_most)
    share = 100 * attempt.q / rule.active_window
    return Margin("active", "active_share_pct", Unit.PERCENT, share, asked, attempt.q, rule.active_most,
                  asked - share, passed, "active "
                  + of_requested(share, asked, Unit.PERCENT).replace("of", "of at most"))


def _tilt(attempt: Attempt, rule: Rule, front_end: FrontEnd, passed: bool | None) -> Margin:
    return _turned("tilt", "tilt_deg", tilt_deg(attempt), rule.tilt_cosine, passed)


def _reclined(attempt: Attempt, rule: Rule, front_end: FrontEnd, passed: bool | None) -> Margin:
    return _turned("reclined", "reclined_deg", reclined_deg(attempt), rule.reclined_cosine, passed)


def _turned(name: str, key: str, measured: float | None, cosine: int, passed: bool | None) -> Margin:
    """An angle; its integer is the cosine in the rule's fixed point."""
    asked = math.degrees(math.acos(cosine / COSINE_ONE))
    if measured is None:
        return _skipped(name, key, Unit.DEGREE, asked, cosine)
    return Margin(name, key, Unit.DEGREE, measured, asked, math.cos(math.radians(measured)) * COSINE_ONE,
                  cosine, measured - asked, passed, f"{name} " + of_requested(measured, asked, Unit.DEGREE))


def _still(attempt: Attempt, rule: Rule, front_end: FrontEnd, passed: bool | None) -> Margin:
    rms, asked = _rms(attempt), front_end.g(rule.still)
    if rms is None:
        return _skipped("still", "still_g", Unit.G, asked, rule.still)
    spare = front_end.g(rule.still - rms)
    moved = front_end.g(rms)
    phrase = f"moved {_text(moved, Unit.G)}" if passed else f"not still by {amount(-spare, Unit.G)}"
    return Margin("still", "still_g", Unit.G, moved, asked, rms, rule.still, spare, passed, phrase)


def _skipped(name: str, key: str, unit: Unit, asked: float, asked_integer: int) -> Margin:
    return Margin(name, key, unit, None, asked, None, asked_integer, None, None,
                  f"{name} skipped, no data")


_DECIMALS = {Unit.G: 2, Unit.MS: 0, Unit.DEGREE: 0, Unit.PERCENT: 0}


def _text(value: float, unit: Unit, more: int = 0) -> str:
    gap = "" if unit is Unit.DEGREE else " "
    return f"{value:.{_DECIMALS[unit] + more}f}{gap}{unit.value}"


def amount(value: float, unit: Unit) -> str:
    """A shortfall, which is never nothing: with as many decimals as are needed to show it."""
    for more in range(3):
        text = _text(value, unit, more)
        if any(digit in "123456789" for digit in text):
            return text
    return "a hair"


def of_requested(measured: float, asked: float, unit: Unit) -> str:
    """As in "38° of 45°", "40 of 60 ms"; with as many decimals as are needed to tell them apart."""
    for more in range(3):
        one, other = _text(measured, unit, more), _text(asked, unit, more)
        if one != other:
            break
    return f"{one.removesuffix(f' {unit.value}')} of {other}"


STAGES = ("watch", "free fall", "impact", "settle", "observe", "hold")


@dataclass(frozen=True)
class StageSpan:
    """Samples `first` … `last` in one of STAGES.

    Free fall runs from the first low sample through the wait for the impact; an impact is one sample; any
    other stage holds the samples that the rule took in that state. `attempt` is the place in the attempts
    given, None while watching. `note` says how the attempt ended, on its last span before hold.
    """

    first: int
    last: int
    stage: str
    attempt: int | None = None
    note: str = ""


def lane(attempts: Sequence[Attempt], rule: Rule, squares: np.ndarray,
         stretch_first: Sequence[int]) -> tuple[StageSpan, ...]:
    """The spans of one recording in order, without a hole, each within one stretch.

    `attempts`: all of the recording, as they ended. `squares`: |v|² of every sample after the pre-filter; it
    tells where restarts were. `stretch_first`: first sample of every stretch.
    """
    spans: list[StageSpan] = []
    following = 0
    for first, end in zip(stretch_first, [*stretch_first[1:], len(squares)], strict=True):
        at = int(first)
        while following < len(attempts) and attempts[following].decided < end:
            for span in _of_attempt(following, attempts[following], rule, squares, at, int(end)):
                if span.first > at:
                    spans.append(StageSpan(at, span.first - 1, "watch"))
                spans.append(span)
                at = span.last + 1
            following += 1
        if at < end:
            spans.append(StageSpan(at, int(end) - 1, "watch"))
    return tuple(spans)


def _of_attempt(number: int, attempt: Attempt, rule: Rule, squares: np.ndarray, at: int,
                end: int) -> Iterator[StageSpan]:
    """Spans of one attempt, none before sample `at`: its low row may have begun while another stage was on."""
    note = ENDED[stopped(attempt)]
    if attempt.first_low is not None:
        wait = attempt.decided if attempt.first_impact is None else attempt.first_impact - 1
        ends_here = attempt.first_impact is None
        yield StageSpan(max(attempt.first_low, at), wait, "free fall", number, note if ends_here else "")
    if attempt.first_impact is None:
        return
    impacts = _impacts(attempt, squares)
    for impact, until in zip(impacts, [*(i - 1 for i in impacts[1:]), attempt.decided], strict=True):
        parts = [(impact, impact, "impact"), (impact + 1, min(impact + rule.settle, until), "settle"),
                 (impact + rule.settle + 1, until, "observe")]
        held = [part for part in parts if part[0] <= part[1]]
        for part in held:
            ends_here = part[1] == attempt.decided
            yield StageSpan(*part, number, note if ends_here else "")
    if attempt.ended == "alarm" and attempt.decided + 1 < end:
        yield StageSpan(attempt.decided + 1, min(attempt.decided + rule.hold_off, end - 1), "hold", number)


def _impacts(attempt: Attempt, squares: np.ndarray) -> list[int]:
    """The first impact and every restart: samples that were bigger than all since the first."""
    assert attempt.first_impact is not None
    assert attempt.impact is not None
    if not attempt.restarts:
        return [attempt.first_impact]
    since = squares[attempt.first_impact:attempt.impact + 1]
    before = np.maximum.accumulate(since)[:-1]
    return [attempt.first_impact, *(attempt.first_impact + 1 + np.flatnonzero(since[1:] > before)).tolist()]
