"""What became of one attempt, in integers: the same in reference, engine and firmware."""

from __future__ import annotations

from dataclasses import dataclass

CHECKS = ("active", "tilt", "reclined", "still")
"""The checks of judging, in the order in which they are named."""

ENDS = ("alarm", "no_impact", "rejected", "cut_off")


@dataclass(frozen=True)
class Attempt:
    """One attempt. Sample numbers count from 0 in its recording, gaps not counted; squares are in counts².

    None where the attempt did not get that far, where the check is off, or where it was skipped.
    """

    ended: str
    """One of ENDS."""
    decided: int
    """The sample at which it ended: an alarm's, or the last before the gap or end that cut it short."""
    early: bool = False
    """Judged before its time because a gap or the recording's end came."""
    failed: tuple[str, ...] = ()
    """Every check that rejected it, in the order of CHECKS."""
    skipped: tuple[str, ...] = ()
    """Checks that are on but had no data; they pass."""
    first_low: int | None = None
    """First sample of the low row that primed it."""
    last_low: int | None = None
    """Last qualified sample."""
    lowest: int | None = None
    """Smallest |v|² from first_low to the last sample processed while primed."""
    highest: int | None = None
    """Largest |v|² while primed, the impact left out."""
    first_impact: int | None = None
    impact: int | None = None
    """The impact that counted: the last restart's, or the first."""
    restarts: int | None = None
    peak: int | None = None
    """Largest |v|² of impact and settling."""
    q: int | None = None
    """Vigorous samples before."""
    n: int | None = None
    """Samples observed."""
    dot: int | None = None
    """Tilt: before · after, each doubled until its largest component reaches 2^14."""
    a_sq: int | None = None
    b_sq: int | None = None
    dot_u: int | None = None
    """Reclined: upright · after, likewise."""
    a_u_sq: int | None = None
    u_sq: int | None = None
    spread: int | None = None
    """Still: n·Σ|v|² − |Σv|²."""
