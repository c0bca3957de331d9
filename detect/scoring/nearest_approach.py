"""How near an event came: its nearest attempt, or without one how low and how high the signal went."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from detect.rule.attempt import Attempt
from detect.rule.explanation import amount, margins, missing, of_requested, stopped
from detect.rule.front_end import FrontEnd, boxcar
from detect.rule.integers import Rule
from detect.rule.settings import Unit


@dataclass(frozen=True)
class Approach:
    """How near an event without an attempt came to one: the longest row of low samples, its first sample, and
    the smallest and largest |v|² in the interval; None where no sample of it passed the pre-filter."""

    longest_row: int
    row_first: int | None
    lowest: int | None
    highest: int | None


def filtered(counts: np.ndarray, stretch_first: np.ndarray, length: int) -> tuple[np.ndarray, np.ndarray]:
    """What the rule sees of a recording: (n, 3) int64 after the pre-filter, and which samples have an output.

    `counts`: (n, 3) raw counts; `stretch_first`: first sample of each stretch; `length`: the boxcar's samples.
    """
    v = np.zeros(counts.shape, dtype=np.int64)
    valid = np.zeros(len(counts), dtype=bool)
    for first, end in zip(stretch_first, [*stretch_first[1:], len(counts)], strict=True):
        if end - first >= length:
            v[first + length - 1:end] = boxcar(counts[first:end], length)
            valid[first + length - 1:end] = True
    return v, valid


def approach(v: np.ndarray, valid: np.ndarray, rule: Rule, first: int, last: int) -> Approach:
    """The nearest approach inside samples `first` … `last`, of what `filtered` gives."""
    inside, speaks = v[first:last + 1], valid[first:last + 1]
    squares = np.sum(inside * inside, axis=1)
    if not speaks.any():
        return Approach(0, None, None, None)
    lowest, highest = int(squares[speaks].min()), int(squares[speaks].max())
    if not rule.free_fall_on:
        return Approach(0, None, lowest, highest)
    low = np.abs(inside).max(axis=1) < rule.free_fall if rule.every_axis else squares < rule.free_fall ** 2
    edges = np.flatnonzero(np.diff(np.concatenate(([False], low & speaks, [False])).astype(np.int8)))
    starts, lengths = edges[::2], edges[1::2] - edges[::2]
    if len(lengths) == 0:
        return Approach(0, None, lowest, highest)
    longest = int(lengths.argmax())
    return Approach(int(lengths[longest]), first + int(starts[longest]), lowest, highest)


def approach_phrase(near: Approach, rule: Rule, front_end: FrontEnd) -> str:
    """As in "low 40 of 60 ms"; without a low sample "0.12 g above free fall"; without the stage "0.31 g short"."""
    if near.lowest is None or near.highest is None:
        return "no samples"
    if not rule.free_fall_on:
        return f"{amount(front_end.g(rule.impact - math.sqrt(near.highest)), Unit.G)} short"
    if near.longest_row:
        return "low " + of_requested(front_end.ms(near.longest_row), front_end.ms(rule.free_fall_run), Unit.MS)
    if rule.every_axis:
        return "never low on every axis"
    return f"{amount(front_end.g(math.sqrt(near.lowest) - rule.free_fall), Unit.G)} above free fall"


@dataclass(frozen=True)
class Summary:
    """Of one event: which of its attempts came nearest (None without one), where it stopped and by how much.

    `stopped` is a key of ENDED, or "free_fall", or with that stage off "impact", where no attempt was made.
    `approach` only in the latter case.
    """

    attempt: int | None
    stopped: str
    phrase: str
    approach: Approach | None = None


def belongs(attempt: Attempt, first: int, last: int) -> bool:
    """Whether an attempt is about samples `first` … `last`: by its impact; without one, by any of its samples."""
    if attempt.impact is not None:
        return first <= attempt.impact <= last
    begin = attempt.decided if attempt.first_low is None else attempt.first_low
    return begin <= last and attempt.decided >= first


def nearness(attempt: Attempt, rule: Rule, front_end: FrontEnd) -> tuple[int, float]:
    """Smaller is nearer to an alarm: how many checks failed, then the worst shortfall; no impact is farthest. Of alarms
    one that was judged early comes last: it says least."""
    if attempt.ended == "alarm":
        return 0, float(attempt.early)
    worst = max(m.shortfall for m in margins(attempt, rule, front_end))
    if attempt.ended == "rejected":
        return len(attempt.failed), worst
    return (10, worst) if attempt.ended == "no_impact" else (10, math.inf)


def summary(attempts: Sequence[Attempt], rule: Rule, front_end: FrontEnd, first: int, last: int,
            look: Callable[[], Approach]) -> Summary:
    """What became of the event in samples `first` … `last` of a recording with these attempts.

    `look` finds the nearest approach; it is only called where no attempt was made.
    """
    mine = [i for i, a in enumerate(attempts) if belongs(a, first, last)]
    if not mine:
        near = look()
        return Summary(None, "free_fall" if rule.free_fall_on else "impact",
                       approach_phrase(near, rule, front_end), near)
    best = min(mine, key=lambda i: nearness(attempts[i], rule, front_end))
    return Summary(best, stopped(attempts[best]), missing(attempts[best], rule, front_end))
