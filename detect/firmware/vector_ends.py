"""The cases of the golden vectors, second half: hold-off, gaps, pre-filter, the ends of the range, synthetic motion."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from detect.firmware.vector_pieces import BASE, HIT, LYING, NOTHING, STANDING, fall, runs, with_checks
from detect.firmware.vectors import GAP, Case, Run
from detect.reference import Vector
from detect.rule import COSINE_ONE, LARGEST_THRESHOLD, Rule

# Hold-off, gaps, pre-filter.


def hold_cases() -> Iterator[Case]:
    alarm = fall(BASE)
    for name, rule in (("all checks", BASE), ("only still", with_checks({"still"}))):
        for low_at in range(2, 11):
            yield Case(f"{name}: alarm, then low {low_at} samples later", rule,
                       (*fall(rule), *runs((STANDING, low_at), (NOTHING, 3), (HIT, 1), (LYING, 10))))
    yield Case("low from before the hold-off ends until after it", BASE,
               (*alarm, *runs((STANDING, 4), ((9, 2, 1), 5), ((3, 9, 4), 4), (HIT, 1), (LYING, 30))))
    off = replace(BASE, free_fall_on=False)
    for wait in range(6, 10):
        yield Case(f"free fall off: alarm, then an impact {wait} samples later", off,
                   (*fall(off)[:-1], *runs((LYING, off.settle + off.observe), (LYING, wait), (HIT, 1), (LYING, 20))))
    yield Case("rejected is not deaf", BASE, (*fall(BASE, after=STANDING), *fall(BASE)))


def gap_cases() -> Iterator[Case]:
    yield Case("a gap first", BASE, (GAP, *fall(BASE)))
    yield Case("gaps in a row", BASE, (GAP, GAP, *fall(BASE), GAP, GAP, *fall(BASE)))
    whole = fall(BASE, wait=2)
    single = [Run(r.x, r.y, r.z) for r in whole for _ in range(r.times)]
    for cut in range(6, len(single)):
        yield Case(f"a gap after {cut} samples of a fall", BASE, (*runs(*single[:cut], GAP), *whole))
    yield Case("a gap in the hold-off ends it", BASE, (*fall(BASE), GAP, *fall(BASE)))
    yield Case("a gap breaks a row", BASE, runs((STANDING, 9), (NOTHING, 2), GAP, (NOTHING, 2), (STANDING, 2), (HIT, 1),
                                                (LYING, 9)))
    off = replace(BASE, free_fall_on=False)
    for cut in (1, 4, 5, 8):
        yield Case(f"free fall off, a gap {cut} samples after the impact", off,
                   (*runs((STANDING, 9), (HIT, 1), (LYING, cut), GAP), *fall(off)))
    blind = replace(BASE, tilt_on=False, reclined_on=False, still_on=False)
    yield Case("nothing to observe and a gap", blind, runs((STANDING, 9), (NOTHING, 3), (HIT, 1), (LYING, 2), GAP))


def prefilter_cases() -> Iterator[Case]:
    for length in (2, 4, 8, 16):
        rule = replace(BASE, prefilter=length)
        yield Case(f"mean of {length}", rule, (*fall(rule), GAP, *fall(rule, before=LYING, after=STANDING)))
        wobble = [((i * 61 % 131 + 40, 170 - i * 47 % 89, i * 31 % 71 - 90), 1) for i in range(3 * length + 7)]
        yield Case(f"mean of {length}, moving", rule,
                   (*runs(*wobble), *fall(rule)[1:], GAP, *runs(*wobble[:length - 1]), GAP, *runs(*wobble), GAP))
        off = replace(rule, free_fall_on=False, impact=1, settle=1, observe=1, guard=0, baseline=1, hold_off=1)
        for last in range(-length - 1, length + 2):
            yield Case(f"mean of {length}, a sum of {last}", off,
                       runs((NOTHING, length - 1), ((last, -last, 1), 1), (NOTHING, 2 * length)))
        for last in (0, 1):
            yield Case(f"{length - 1 + last} samples make {last} of the filter", replace(off, impact=100),
                       runs((HIT, length - 1 + last), GAP, (HIT, length - 1 + last), (LYING, 0), GAP))


# The ends of the range.


def extreme_cases() -> Iterator[Case]:
    least, most = -32768, 32767
    corner: Vector = (least, least, least)
    top = LARGEST_THRESHOLD
    wide = replace(BASE, free_fall_on=False, impact=56755, settle=1, observe=4, still=top, guard=1, upright=(
        COSINE_ONE, -COSINE_ONE, COSINE_ONE), tilt_cosine=-COSINE_ONE, reclined_cosine=-COSINE_ONE)
    yield Case("all axes at their least", wide, runs((corner, 1), GAP, ((most, 1, 2), 9), (corner, 7)))
    yield Case("all axes at their most", replace(wide, impact=56754), runs(((1, 2, 3), 9), ((most, most, most), 9)))
    yield Case("no reading reaches the largest threshold", replace(wide, impact=top), runs((corner, 12), GAP))
    yield Case("low and busy at the largest thresholds",
               replace(wide, free_fall_on=True, free_fall=56756, impact=56756, busy_low=top, busy_high=top),
               runs((corner, 9), ((most, most, least), 9), GAP))
    yield Case("busy above the largest threshold never", replace(wide, busy_low=0, busy_high=top - 1, busy_most=5),
               runs(((1, 2, 3), 1), (corner, 8), GAP, (corner, 3)))
    yield Case("the largest spread", replace(wide, impact=40000, restart_on=False),
               runs(((1, 2, 3), 9), (corner, 2), ((most, most, most), 2), (corner, 2)))
    yield Case("from corner to corner", replace(wide, impact=40000, restart_on=False, settle=2),
               runs(((most, most, most), 1), GAP, ((20000, -9000, 1), 6), (corner, 8)))
    for size in (1, 127):
        eight = replace(BASE, free_fall=1, impact=size, restart_on=False, upright=(0, 1, 0), still=1, busy_on=False,
                        free_fall_on=False)
        yield Case(f"eight bits, readings of {size}", eight,
                   runs(((0, 1, 0), 8), ((size, 0, 0), 1), ((1, 0, -1), 4), ((0, 0, 1), 5)))
    one = Rule(1, True, False, 1, 1, 1, 1, 1, 1, True, 0, True, 0, 1, 1, 0, True, 0, 1, True, 0, (0, 0, 1), True, 1, 1)
    yield Case("the shortest of everything", one,
               runs(((0, 1, 0), 2), (NOTHING, 1), ((1, 0, 0), 2), ((0, 1, 0), 2), (NOTHING, 2), ((0, 2, 0), 1),
                    ((1, 1, 0), 3), (NOTHING, 1), ((0, 1, 0), 1), GAP))
    yield Case("the shortest, free fall off", replace(one, free_fall_on=False),
               runs(((0, 1, 0), 3), (NOTHING, 2), ((1, 0, 0), 9)))
    yield from long_cases()


def long_cases() -> Iterator[Case]:
    longest = replace(BASE, free_fall_run=4096, impact_within=65535, settle=4096, observe=4096, guard=4096,
                      busy_window=4096, busy_most=4096, baseline=4096, hold_off=65535, restart_on=False)
    steady: Vector = (-32768, 200, -32768)
    big = replace(longest, impact=46400, busy_high=LARGEST_THRESHOLD, still=LARGEST_THRESHOLD, free_fall=20000)
    after: Vector = (32767, -32768, 32767)
    yield Case("the longest of everything, at full scale", big,
               runs((steady, 8191), ((5, 6, 7), 4097), (STANDING, 1), (steady, 1), (after, 1), (after, 8191),
                    (after, 30000), (after, 35536)))
    for extra in (0, 1):
        yield Case(f"an impact {65535 + extra} samples later", replace(longest, busy_on=False, tilt_on=False),
                   runs((NOTHING, 4096), (STANDING, 65534 + extra), (HIT, 1), GAP))
    deaf = replace(BASE, hold_off=65535)
    for short in (1, 0):
        yield Case(f"deaf for {65535 - short} more samples", deaf,
                   (*fall(deaf), *runs((STANDING, 65535 - short - 4), (NOTHING, 3), (HIT, 1), (STANDING, 3), GAP)))
    row = replace(BASE, free_fall_run=4096, impact_within=1, busy_on=False)
    yield Case("a row longer than sixteen bits", row,
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


def motion_cases() -> Iterator[Case]:
    waist = Rule(prefilter=1, free_fall_on=True, every_axis=False, free_fall=307, free_fall_run=3, impact=1024,
                 impact_within=25, settle=25, observe=50, restart_on=True, guard=13, busy_on=True, busy_low=358,
                 busy_high=666, busy_window=50, busy_most=25, tilt_on=True, tilt_cosine=11585, baseline=25,
                 reclined_on=True, reclined_cosine=8192, upright=(0, 512, 0), still_on=True, still=77, hold_off=250)
    for seed in (1, 2):
        yield Case(f"a synthetic fall while walking, {seed}", waist, tuple(motion(seed, waist, 512, 25)))
    smooth = replace(waist, prefilter=2, free_fall_on=False, busy_most=50, still=40)
    yield Case("the same without free fall, filtered", smooth, tuple(motion(3, smooth, 512, 25)))
