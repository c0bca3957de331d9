"""The cases of the golden vectors, second half: hold-off, gaps, pre-filter, the ends of the range, synthetic motion.

The golden vectors in parts: four that are the same in every export, and one cut to its settings.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from detect.firmware.vectors.detector import (
    BASE,
    GAP,
    HIT,
    LYING,
    NOTHING,
    STANDING,
    Run,
    VectorCase,
    VectorPart,
    fall,
    runs,
    with_checks,
)
from detect.firmware.vectors.transition_cases import (
    active_cases,
    impact_cases,
    low_cases,
    reclined_cases,
    still_cases,
    tilt_cases,
    wait_cases,
)
from detect.rule.integers import COSINE_ONE, LARGEST_THRESHOLD, Rule
from detect.rule.reference import Vector

# Hold-off, gaps, pre-filter.


def hold_cases() -> Iterator[VectorCase]:
    alarm = fall(BASE)
    for name, rule in (("all checks", BASE), ("only still", with_checks({"still"}))):
        for low_at in range(2, 11):
            yield VectorCase(f"{name}: alarm, then low {low_at} samples later", rule,
                       (*fall(rule), *runs((STANDING, low_at), (NOTHING, 3), (HIT, 1), (LYING, 10))))
    yield VectorCase("low from before the hold-off ends until after it", BASE,
               (*alarm, *runs((STANDING, 4), ((9, 2, 1), 5), ((3, 9, 4), 4), (HIT, 1), (LYING, 30))))
    off = replace(BASE, free_fall_on=False)
    for wait in range(6, 10):
        yield VectorCase(f"free fall off: alarm, then an impact {wait} samples later", off,
                   (*fall(off)[:-1], *runs((LYING, off.settle + off.observe), (LYING, wait), (HIT, 1), (LYING, 20))))
    yield VectorCase("no hold-off after a rejection", BASE, (*fall(BASE, after=STANDING), *fall(BASE)))


def gap_cases() -> Iterator[VectorCase]:
    yield VectorCase("a gap first", BASE, (GAP, *fall(BASE)))
    yield VectorCase("gaps in a row", BASE, (GAP, GAP, *fall(BASE), GAP, GAP, *fall(BASE)))
    whole = fall(BASE, wait=2)
    single = [Run(r.x, r.y, r.z) for r in whole for _ in range(r.times)]
    for cut in range(6, len(single)):
        yield VectorCase(f"a gap after {cut} samples of a fall", BASE, (*runs(*single[:cut], GAP), *whole))
    yield VectorCase("a gap in the hold-off ends it", BASE, (*fall(BASE), GAP, *fall(BASE)))
    yield VectorCase("a gap breaks a run", BASE,
                     runs((STANDING, 9), (NOTHING, 2), GAP, (NOTHING, 2), (STANDING, 2), (HIT, 1),
                                                (LYING, 9)))
    off = replace(BASE, free_fall_on=False)
    for cut in (1, 4, 5, 8):
        yield VectorCase(f"free fall off, a gap {cut} samples after the impact", off,
                   (*runs((STANDING, 9), (HIT, 1), (LYING, cut), GAP), *fall(off)))
    blind = replace(BASE, tilt_on=False, reclined_on=False, still_on=False)
    yield VectorCase("nothing to observe and a gap", blind,
                     runs((STANDING, 9), (NOTHING, 3), (HIT, 1), (LYING, 2), GAP))


def prefilter_cases() -> Iterator[VectorCase]:
    for length in (2, 4, 8, 16):
        rule = replace(BASE, prefilter=length)
        yield VectorCase(f"mean of {length}", rule, (*fall(rule), GAP, *fall(rule, before=LYING, after=STANDING)))
        wobble = [((i * 61 % 131 + 40, 170 - i * 47 % 89, i * 31 % 71 - 90), 1) for i in range(3 * length + 7)]
        yield VectorCase(f"mean of {length}, moving", rule,
                   (*runs(*wobble), *fall(rule)[1:], GAP, *runs(*wobble[:length - 1]), GAP, *runs(*wobble), GAP))
        off = replace(rule, free_fall_on=False, impact=1, settle=1, observe=1, guard=0, baseline=1, hold_off=1)
        for last in range(-length - 1, length + 2):
            yield VectorCase(f"mean of {length}, a sum of {last}", off,
                       runs((NOTHING, length - 1), ((last, -last, 1), 1), (NOTHING, 2 * length)))
        for last in (0, 1):
            yield VectorCase(f"{length - 1 + last} samples make {last} of the filter", replace(off, impact=100),
                       runs((HIT, length - 1 + last), GAP, (HIT, length - 1 + last), (LYING, 0), GAP))


# The ends of the range.


def extreme_cases() -> Iterator[VectorCase]:
    least, most = -32768, 32767
    corner: Vector = (least, least, least)
    top = LARGEST_THRESHOLD
    wide = replace(BASE, free_fall_on=False, impact=56755, settle=1, observe=4, still=top, guard=1, upright=(
        COSINE_ONE, -COSINE_ONE, COSINE_ONE), tilt_cosine=-COSINE_ONE, reclined_cosine=-COSINE_ONE)
    yield VectorCase("all axes at their least", wide, runs((corner, 1), GAP, ((most, 1, 2), 9), (corner, 7)))
    yield VectorCase("all axes at their most", replace(wide, impact=56754),
                     runs(((1, 2, 3), 9), ((most, most, most), 9)))
    yield VectorCase("no reading reaches the largest threshold", replace(wide, impact=top), runs((corner, 12), GAP))
    yield VectorCase("low and active at the largest thresholds",
               replace(wide, free_fall_on=True, free_fall=56756, impact=56756, active_low=top, active_high=top),
               runs((corner, 9), ((most, most, least), 9), GAP))
    yield VectorCase("active above the largest threshold never",
                     replace(wide, active_low=0, active_high=top - 1, active_most=5),
               runs(((1, 2, 3), 1), (corner, 8), GAP, (corner, 3)))
    yield VectorCase("the largest spread", replace(wide, impact=40000, restart_on=False),
               runs(((1, 2, 3), 9), (corner, 2), ((most, most, most), 2), (corner, 2)))
    yield VectorCase("from corner to corner", replace(wide, impact=40000, restart_on=False, settle=2),
               runs(((most, most, most), 1), GAP, ((20000, -9000, 1), 6), (corner, 8)))
    for size in (1, 127):
        eight = replace(BASE, free_fall=1, impact=size, restart_on=False, upright=(0, 1, 0), still=1, active_on=False,
                        free_fall_on=False)
        yield VectorCase(f"eight bits, readings of {size}", eight,
                   runs(((0, 1, 0), 8), ((size, 0, 0), 1), ((1, 0, -1), 4), ((0, 0, 1), 5)))
    one = replace(BASE, free_fall=1, free_fall_run=1, impact=1, impact_within=1, settle=1, observe=1, guard=0,
                  active_low=0, active_high=1, active_window=1, active_most=0, tilt_cosine=0, baseline=1,
                  reclined_cosine=0, upright=(0, 0, 1), still=1, hold_off=1)
    yield VectorCase("the shortest of everything", one,
               runs(((0, 1, 0), 2), (NOTHING, 1), ((1, 0, 0), 2), ((0, 1, 0), 2), (NOTHING, 2), ((0, 2, 0), 1),
                    ((1, 1, 0), 3), (NOTHING, 1), ((0, 1, 0), 1), GAP))
    yield VectorCase("the shortest, free fall off", replace(one, free_fall_on=False),
               runs(((0, 1, 0), 3), (NOTHING, 2), ((1, 0, 0), 9)))
    yield from long_cases()


def long_cases() -> Iterator[VectorCase]:
    longest = replace(BASE, free_fall_run=4096, impact_within=65535, settle=4096, observe=4096, guard=4096,
                      active_window=4096, active_most=4096, baseline=4096, hold_off=65535, restart_on=False)
    steady: Vector = (-32768, 200, -32768)
    big = replace(longest, impact=46400, active_high=LARGEST_THRESHOLD, still=LARGEST_THRESHOLD, free_fall=20000)
    after: Vector = (32767, -32768, 32767)
    yield VectorCase("the longest of everything, at full scale", big,
               runs((steady, 8191), ((5, 6, 7), 4097), (STANDING, 1), (steady, 1), (after, 1), (after, 8191),
                    (after, 30000), (after, 35536)))
    for extra in (0, 1):
        yield VectorCase(f"an impact {65535 + extra} samples later", replace(longest, active_on=False, tilt_on=False),
                   runs((NOTHING, 4096), (STANDING, 65534 + extra), (HIT, 1), GAP))
    held = replace(BASE, hold_off=65535)
    for short in (1, 0):
        yield VectorCase(f"hold-off for {65535 - short} more samples", held,
                   (*fall(held), *runs((STANDING, 65535 - short - 4), (NOTHING, 3), (HIT, 1), (STANDING, 3), GAP)))
    run = replace(BASE, free_fall_run=4096, impact_within=1, active_on=False)
    yield VectorCase("a run longer than sixteen bits", run,
               runs((STANDING, 9), (NOTHING, 65535), ((1, 0, 0), 4200), (STANDING, 1), GAP))


# Motion that looks real.


def motion(seed: int, rule: Rule, counts_per_g: float, rate: float) -> Iterator[Run]:
    """A walk, a stumble, a fall, lying, and getting up again, made of sines, noise and pulses: synthetic."""
    random = np.random.default_rng(seed)

    def reading(x: float, y: float, z: float, shake: float) -> Run:
        x, y, z = (round((c + random.normal(0, shake)) * counts_per_g) for c in (x, y, z))
        return Run(*(min(max(c, -32768), 32767) for c in (x, y, z)))

    lean = math.radians(random.uniform(60, 95))
    for i in range(int(4 * rate)):
        step = math.sin(2 * math.pi * 1.8 * i / rate)
        yield reading(0.1 * step, 1 + 0.3 * step, 0.15 * math.cos(2 * math.pi * 0.9 * i / rate), 0.03)
    for i in range(int(0.35 * rate)):
        yield reading(0.1, 0.9 - 0.8 * min(1.0, i / (0.1 * rate)), 0.1, 0.02)
    for peak in (random.uniform(2.2, 3.6), 1.4, 0.8):
        yield reading(peak * 0.8, peak * 0.4, -peak * 0.45, 0.1)
    for i in range(int(0.5 * rate)):
        fade = math.exp(-6 * i / rate)
        yield reading(math.sin(lean) + 0.6 * fade * math.sin(40 * i / rate), math.cos(lean), 0.2, 0.02 + 0.1 * fade)
    for _ in range(int(3.2 * rate)):
        yield reading(math.sin(lean), math.cos(lean), 0.1, 0.015)


def motion_cases() -> Iterator[VectorCase]:
    waist = replace(BASE, free_fall=307, free_fall_run=3, impact=1024, impact_within=25, settle=25, observe=50,
                    guard=13, active_low=358, active_high=666, active_window=50, active_most=25, tilt_cosine=11585,
                    baseline=25, reclined_cosine=8192, upright=(0, 512, 0), still=77, hold_off=250)
    for seed in (1, 2):
        yield VectorCase(f"a synthetic fall while walking, {seed}", waist, tuple(motion(seed, waist, 512, 25)))
    smooth = replace(waist, prefilter=2, free_fall_on=False, active_most=50, still=40)
    yield VectorCase("the same without free fall, filtered", smooth, tuple(motion(3, smooth, 512, 25)))


def golden_parts() -> tuple[VectorPart, ...]:
    """The parts that are the same in every export."""
    return (
        VectorPart("free fall, impact, waiting", (*low_cases(), *impact_cases(), *wait_cases())),
        VectorPart("the checks", (*active_cases(), *tilt_cases(), *reclined_cases(), *still_cases())),
        VectorPart("hold-off, gaps, pre-filter", (*hold_cases(), *gap_cases(), *prefilter_cases())),
        VectorPart("the ends of the range, and synthetic motion", (*extreme_cases(), *motion_cases())),
    )


def own_part(rule: Rule) -> VectorPart:
    """The part that runs under plumbfall_params.h of this rule."""
    return VectorPart("under plumbfall_params.h", tuple(own_cases(rule)), own=True)


def own_cases(rule: Rule) -> Iterator[VectorCase]:
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
        yield VectorCase(f"under these settings: {name}", rule, (*pieces, GAP))


def _at_threshold(rule: Rule) -> tuple[Run, ...]:
    """Samples at the free-fall threshold, long enough to qualify if it were low."""
    x, y, z = _scaled((1.0, 0.0, 0.0), float(min(rule.free_fall, 32767)))
    return runs(((x, y, z), rule.free_fall_run + rule.prefilter - 1))


def _scaled(v: Iterable[float], by: float) -> Vector:
    x, y, z = (min(max(round(c * by), -32768), 32767) for c in v)
    return x, y, z
