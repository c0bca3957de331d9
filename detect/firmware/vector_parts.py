"""The golden vectors in parts: four that are the same in every export, and one cut to its settings."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from detect.firmware.vector_cases import (
    busy_cases,
    impact_cases,
    low_cases,
    reclined_cases,
    still_cases,
    tilt_cases,
    wait_cases,
)
from detect.firmware.vector_ends import extreme_cases, gap_cases, hold_cases, motion_cases, prefilter_cases
from detect.firmware.vector_pieces import fall, runs
from detect.firmware.vectors import GAP, Case, Part, Run
from detect.reference import Vector
from detect.rule import Rule


def golden_parts() -> tuple[Part, ...]:
    """The parts that are the same in every export."""
    return (
        Part("free fall, impact, waiting", (*low_cases(), *impact_cases(), *wait_cases())),
        Part("the checks", (*busy_cases(), *tilt_cases(), *reclined_cases(), *still_cases())),
        Part("hold-off, gaps, pre-filter", (*hold_cases(), *gap_cases(), *prefilter_cases())),
        Part("the ends of the range, and synthetic motion", (*extreme_cases(), *motion_cases())),
    )


def own_part(rule: Rule) -> Part:
    """The part that runs under plumbfall_params.h of this rule."""
    return Part("under plumbfall_params.h", tuple(own_cases(rule)), own=True)


def own_cases(rule: Rule) -> Iterator[Case]:
    """Falls cut to the exported settings, so that a header and vectors which don't belong together are noticed."""
    u = tuple(float(c) for c in rule.upright)
    length = math.sqrt(sum(c * c for c in u))
    size = (rule.impact + rule.free_fall) / 2 if rule.impact - rule.free_fall > 2 else float(rule.impact)
    standing = _scaled(u, min(size, 32767.0) / length)
    lying = (standing[1], -standing[0], standing[2]) if (standing[0] or standing[1]) else (standing[2], 0, 0)
    hit = _scaled((1.0, 1.0, 1.0), rule.impact / math.sqrt(3) + 2)
    harder = _scaled((1.0, 1.0, 1.0), rule.impact / math.sqrt(3) + 30)
    whole = fall(rule, before=standing, hit=hit, after=lying)
    rows: dict[str, tuple[Run, ...]] = {
        "a fall": whole,
        "a fall that turned nobody": fall(rule, before=standing, hit=hit, after=standing),
        "a fall after lying until the baseline begins": (
            *runs((lying, rule.baseline), (standing, rule.guard + rule.baseline + rule.prefilter - 1)), *whole[1:]),
        "cut short while settling": (*whole[:-1], Run(*lying, (rule.settle + 1) // 2)),
        "an impact at the last moment": fall(rule, before=standing, hit=hit, after=lying, wait=rule.impact_within - 1),
        "an impact too late": fall(rule, before=standing, hit=hit, after=lying, wait=rule.impact_within),
        "as low as is not low": (*_at_threshold(rule), Run(*hit, rule.prefilter), Run(*lying, 2)),
        "hit harder while settling": (*whole[:-1], Run(*lying, (rule.settle + 1) // 2), Run(*harder, rule.prefilter),
                                      whole[-1]),
    }
    for name, pieces in rows.items():
        yield Case(f"under these settings: {name}", rule, (*pieces, GAP))


def _at_threshold(rule: Rule) -> tuple[Run, ...]:
    """A row at the free-fall threshold, long enough to qualify if it were low."""
    x, y, z = _scaled((1.0, 0.0, 0.0), float(min(rule.free_fall, 32767)))
    return runs(((x, y, z), rule.free_fall_run + rule.prefilter - 1))


def _scaled(v: Iterable[float], by: float) -> Vector:
    x, y, z = (min(max(round(c * by), -32768), 32767) for c in v)
    return x, y, z
