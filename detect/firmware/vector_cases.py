"""The cases of the golden vectors: each transition, each comparison at its bound and beside it, the longest and the
shortest settings, full-scale readings, gaps everywhere, and motion that looks real.

The base rule has windows of a few samples and thresholds whose squares, and the squares beside them, are sums of three
squares. A reading has three different components wherever two could be mistaken for each other.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace
from random import Random

from detect.attempt import CHECKS
from detect.firmware.vectors import GAP, Case, Part, Run, with_square
from detect.reference import Vector, dot, doubled
from detect.rule import COSINE_ONE, LARGEST_THRESHOLD, Rule

BASE = Rule(
    prefilter=1, free_fall_on=True, every_axis=False, free_fall=101, free_fall_run=3, impact=301, impact_within=6,
    settle=4, observe=5, restart_on=True, guard=2, busy_on=True, busy_low=150, busy_high=250, busy_window=6,
    busy_most=3, tilt_on=True, tilt_cosine=11585, baseline=4, reclined_on=True, reclined_cosine=8192,
    upright=(20, 190, -40), still_on=True, still=10, hold_off=8)

STANDING: Vector = (21, 188, -42)
LYING: Vector = (170, 25, 80)
NOTHING: Vector = (0, 0, 0)
HIT: Vector = (280, -190, 90)
"""Its |v|² is 122 600, well above the impact's 90 601."""


def runs(*pieces: Run | tuple[Vector, int]) -> tuple[Run, ...]:
    """Readings with how often they come, and gaps."""
    return tuple(p if isinstance(p, Run) else Run(*p[0], p[1]) for p in pieces if isinstance(p, Run) or p[1] > 0)


def fall(rule: Rule, *, before: Vector = STANDING, hit: Vector = HIT, after: Vector = LYING,
         wait: int = 1) -> tuple[Run, ...]:
    """A whole fall: long enough before, low until qualified, `wait` samples, an impact, and lying until judged."""
    filled = rule.guard + max(rule.baseline, rule.busy_window) + rule.prefilter - 1
    low = rule.free_fall_run + rule.prefilter - 1 if rule.free_fall_on else 0
    rest = rule.settle + (rule.observe if rule.observes else 0)
    return runs((before, filled), (NOTHING, low), (before, wait if rule.free_fall_on else 0), (hit, rule.prefilter),
                (after, rest + rule.prefilter))


def signed(v: Vector, signs: Vector) -> Vector:
    return v[0] * signs[0], v[1] * signs[1], v[2] * signs[2]


def with_checks(on: Collection[str]) -> Rule:
    """The base rule with these checks on and the others off."""
    return replace(BASE, busy_on="busy" in on, tilt_on="tilt" in on, reclined_on="reclined" in on,
                   still_on="still" in on)


def beside(threshold: int) -> Iterator[tuple[str, Vector]]:
    """Readings at a threshold, one count² beside it, and one count beside it."""
    square = threshold * threshold
    for name, target in (("at", square), ("just below", square - 1), ("just above", square + 1)):
        x, y, z = with_square(target)
        yield name, (y, x, -z)
    yield "a count below", (0, -(threshold - 1), 0)
    yield "a count above", (0, 0, threshold + 1)


# Free fall and impact.


def low_cases() -> Iterator[Case]:
    for name, v in beside(BASE.free_fall):
        yield Case(f"low {name}", BASE, runs((STANDING, 8), (v, 3), (HIT, 1), (LYING, 10), GAP))
    axes = replace(BASE, every_axis=True)
    f = axes.free_fall
    for axis in range(3):
        for size in (f - 1, f, f + 1, 1 - f, -f, -f - 1):
            x, y, z = (size if i == axis else other for i, other in enumerate((f - 1, 1 - f, f - 2)))
            yield Case(f"every axis, {'xyz'[axis]} = {size}", axes,
                       runs((STANDING, 8), ((x, y, z), 3), (HIT, 1), (LYING, 9), GAP))
    for name, rule in (("magnitude", BASE), ("every axis", axes)):
        yield Case(f"{name}: what tells the two apart", rule, runs((STANDING, 8), ((90, 80, 70), 4), GAP))
    for length in range(BASE.free_fall_run - 1, BASE.free_fall_run + 3):
        yield Case(f"{length} low samples", BASE, runs((STANDING, 9), (NOTHING, length), (HIT, 1), (LYING, 9), GAP))
    yield Case("a row that is broken does not count on", BASE,
               runs((STANDING, 9), (NOTHING, 2), (STANDING, 1), (NOTHING, 2), (HIT, 1), (LYING, 9), GAP))
    yield Case("the smallest of a row", BASE, runs((STANDING, 9), ((50, 3, 2), 1), ((9, 8, 4), 1), ((60, 0, 0), 3),
                                                   ((9, 8, 7), 1), ((30, 0, 0), 1), (STANDING, 2), GAP))
    yield Case("a row that falls, then falls further once primed", BASE,
               runs((STANDING, 9), ((50, 3, 2), 1), ((40, 0, 0), 1), ((30, 0, 0), 2), ((20, 0, 0), 1), (STANDING, 2)))
    yield Case("first of a row is its smallest", BASE,
               runs((STANDING, 9), ((1, 2, 3), 1), ((60, 0, 0), 3), (STANDING, 2), GAP))


def impact_cases() -> Iterator[Case]:
    for name, v in beside(BASE.impact):
        yield Case(f"impact {name}", BASE, runs((STANDING, 9), (NOTHING, 3), (v, 1), (LYING, 9), GAP))
        off = replace(BASE, free_fall_on=False)
        yield Case(f"impact {name}, free fall off", off, runs((STANDING, 9), (v, 1), (LYING, 9), GAP))
    for wait in range(BASE.impact_within - 2, BASE.impact_within + 2):
        yield Case(f"impact {wait + 1} samples after the last qualified one", BASE,
                   runs((STANDING, 9), (NOTHING, 3), (STANDING, wait), (HIT, 1), (LYING, 9), GAP))
    yield Case("qualified again, the deadline moves", BASE,
               runs((STANDING, 9), (NOTHING, 5), (STANDING, 4), (NOTHING, 3), (STANDING, 5), (HIT, 1), (LYING, 9)))
    yield Case("low again but too short, the deadline stays", BASE,
               runs((STANDING, 9), (NOTHING, 5), (STANDING, 3), (NOTHING, 2), (STANDING, 1), (HIT, 1), (LYING, 9)))
    yield Case("lowest and highest while primed", BASE,
               runs((STANDING, 9), ((10, 0, 0), 3), (STANDING, 1), ((0, 200, 60), 1), ((0, 5, 0), 1), ((0, 0, 9), 1),
                    ((190, 0, 0), 1), (HIT, 1), (LYING, 9)))
    yield Case("an impact that is the lowest yet", replace(BASE, free_fall=101, impact=101),
               runs((STANDING, 9), ((100, 1, 0), 3), ((101, 0, 0), 1), ((40, 0, 90), 9)))
    yield Case("nothing, twice over", BASE, runs((STANDING, 9), (NOTHING, 3), (STANDING, 12), (NOTHING, 4),
                                                 (STANDING, 12)))
    yield Case("no second attempt without a new row", BASE, runs((STANDING, 9), (NOTHING, 3), (STANDING, 6), (HIT, 3),
                                                                 (STANDING, 9)))
    one = replace(BASE, free_fall_run=1, impact_within=1)
    yield Case("one low sample, impact at once or never", one,
               runs((STANDING, 9), (NOTHING, 1), (HIT, 1), (LYING, 17), (NOTHING, 1), (STANDING, 1), (HIT, 1),
                    (LYING, 9), GAP))
    deaf_to_low = replace(BASE, free_fall_on=False, free_fall=LARGEST_THRESHOLD)
    yield Case("impact with free fall off, primed never", deaf_to_low,
               runs((NOTHING, 9), (HIT, 1), (LYING, 9), GAP))


# Settling, observing, restarts.


def wait_cases() -> Iterator[Case]:
    square = dot(HIT, HIT)
    start = runs((STANDING, 9), (NOTHING, 3), (HIT, 1))
    for on in (True, False):
        rule = replace(BASE, restart_on=on)
        for name, target in (("as big", square), ("just bigger", square + 2), ("just smaller", square - 2)):
            second = with_square(target)
            for wait in (0, 3, 4, 6, 7, 8, 9):
                yield Case(f"{name} after {wait} samples, restart {'on' if on else 'off'}", rule,
                           (*start, *runs((LYING, wait), (second, 1), (LYING, 12))))
    yield Case("peak of settling, restart off", replace(BASE, restart_on=False),
               (*start, *runs((LYING, 1), ((300, 200, 90), 1), ((300, 100, 90), 1), (LYING, 12))))
    yield Case("restarted thrice", BASE,
               (*start, *runs((LYING, 2), ((300, 200, 90), 1), (LYING, 5), ((320, 200, 90), 1), ((340, 200, 90), 1),
                              (LYING, 12))))
    yield Case("two attempts, what was counted starts anew", BASE,
               (*start, *runs((LYING, 2), ((300, 200, 90), 1), (LYING, 9), (STANDING, 10), (NOTHING, 3), (HIT, 1),
                              (LYING, 9))))
    for settle, observe in ((1, 1), (1, 5), (4, 1)):
        rule = replace(BASE, settle=settle, observe=observe)
        yield Case(f"settle {settle}, observe {observe}", rule, (*fall(rule), *runs((LYING, 3))))
    blind = replace(BASE, tilt_on=False, reclined_on=False, still_on=False)
    variants = {"busy on": blind, "busy off": replace(blind, busy_on=False), "settle 1": replace(blind, settle=1)}
    for name, rule in variants.items():
        yield Case(f"nothing to observe, {name}", rule, (*fall(rule), *fall(rule)))
    for check in CHECKS:
        only, without = with_checks({check}), with_checks(set(CHECKS) - {check})
        yield Case(f"only {check}", only, (*fall(only), *fall(only, before=LYING)))
        yield Case(f"all but {check}", without, (*fall(without), *fall(without, before=LYING)))


# The checks.


def busy_cases() -> Iterator[Case]:
    rule = replace(BASE, tilt_on=False, reclined_on=False, still_on=False)
    edges = [*((f"lo {n}", v) for n, v in beside(rule.busy_low)), *((f"hi {n}", v) for n, v in beside(rule.busy_high))]
    for name, v in edges:
        for most in (5, 6):
            yield Case(f"six samples {name}, at most {most}", replace(rule, busy_most=most),
                       runs((v, 6), (STANDING, 2), (NOTHING, 3), (HIT, 1), (LYING, 4)))
    shake: Vector = (10, 251, 30)
    for place in range(10):
        yield Case(f"vigorous {10 - place} samples before", replace(rule, busy_most=0),
                   runs((STANDING, place), (shake, 1), (STANDING, 9 - place), (NOTHING, 3), (HIT, 1), (LYING, 4)))
    for count in (3, 4):
        yield Case(f"{count} vigorous of at most 3", rule,
                   runs((STANDING, 2), (shake, count), (STANDING, 6 - count + 2), (NOTHING, 3), (HIT, 1), (LYING, 4)))
    for filled in (7, 8):
        yield Case(f"{filled} samples since the start", rule,
                   runs((shake, filled), (NOTHING, 3), (HIT, 1), (LYING, 4)))
        yield Case(f"{filled} samples since a gap", rule,
                   runs((shake, 9), GAP, (shake, filled), (NOTHING, 3), (HIT, 1), (LYING, 4)))
    long = replace(rule, guard=13, busy_window=27, busy_most=9)
    mixed = [(shake if i * i % 7 in (1, 2) else STANDING, 1) for i in range(90)]
    for length in (39, 40, 41, 58, 77, 90):
        yield Case(f"a busy window over three words, {length} samples in", long,
                   runs(*mixed[:length], (NOTHING, 3), (HIT, 1), (LYING, 4)))
    for window in (1, 16, 17):
        for guard in (0, 1, 15):
            narrow = replace(rule, guard=guard, busy_window=window, busy_most=0)
            yield Case(f"a ring of {guard} and {window} bits, just filled", narrow,
                       (*runs((STANDING, guard + window)), *fall(narrow)[1:]))
            yield Case(f"a ring of {guard} and {window} bits", narrow,
                       (*runs((shake, 1), (STANDING, guard + window)), *fall(narrow)[1:],
                        *runs((STANDING, 8), (shake, 1), (STANDING, guard + window - 1)), *fall(narrow)[1:]))
    yield Case("no guard", replace(rule, guard=0, busy_most=2),
               runs((STANDING, 5), (shake, 3), (NOTHING, 3), (HIT, 1), (LYING, 12), (STANDING, 4), (shake, 2),
                    (NOTHING, 3), (HIT, 1), (LYING, 4)))


def cosine_between(b: Vector, a: Vector) -> int:
    """The least cosine setting that lets this pair pass."""
    b, a = doubled(b), doubled(a)
    return -(-dot(b, a) * COSINE_ONE // math.isqrt(dot(b, b) * dot(a, a)))


def tilt_cases() -> Iterator[Case]:
    only = replace(BASE, busy_on=False, reclined_on=False, still_on=False)
    for b, a in ((STANDING, LYING), ((21, -188, 42), LYING), ((3, 5, -2), (-1, 2, 4)), ((190, 7, -31), (11, 189, 5)),
                 ((-32768, -32768, -32768), (-32768, -32768, 32767)), ((16384, 3, 0), (-5, 16383, 7)),
                 ((-32768, -32768, -32768), (-32768, -32000, -31000)), ((32767, 2, 1), (32767, 32767, 32767))):
        exact = cosine_between(b, a)
        for cosine in (exact - 1, exact, exact + 1):
            rule = replace(only, tilt_cosine=cosine)
            if max(map(abs, b)) > 1000:
                rule = replace(rule, restart_on=False)
            yield Case(f"from {b} to {a}, cosine {cosine}", replace(rule, free_fall=1),
                       runs((b, 6), (NOTHING, 3), (HIT, 1), (a, 9)))
    odd: Vector = (16385, 3, -1)  # |odd|² is odd: the root's last bit counts
    for b in (STANDING, odd):
        for cosine in (COSINE_ONE, COSINE_ONE - 1):
            yield Case(f"{b}, not turned at all, cosine {cosine}",
                       replace(only, tilt_cosine=cosine, restart_on=False),
                       fall(replace(only, busy_window=1), before=b, after=b))
    for after in ((-21, -188, 42), (-21, -188, 41)):
        for cosine in (-COSINE_ONE, 1 - COSINE_ONE):
            yield Case(f"upside down to {after}, cosine {cosine}", replace(only, tilt_cosine=cosine),
                       fall(replace(only, busy_window=1), after=after))
    for filled in (5, 6, 7):
        yield Case(f"tilt, {filled} samples since the start", only,
                   runs((STANDING, filled), (NOTHING, 3), (HIT, 1), (LYING, 9)))
        yield Case(f"tilt, {filled} samples since a gap", only,
                   runs((STANDING, 9), GAP, (STANDING, filled), (NOTHING, 3), (HIT, 1), (LYING, 9)))
    for place in range(8):
        yield Case(f"baseline, the odd one {8 - place} samples before", only,
                   runs((STANDING, place), ((130, -140, 199), 1), (STANDING, 7 - place), (NOTHING, 3), (HIT, 1),
                        (LYING, 9)))
    ramp = [((i * 37 % 101 + 90, 150 - i * 29 % 113, i * 53 % 97 - 48), 1) for i in range(40)]
    for length in (6, 7, 11, 12, 13, 29, 40):
        for guard in (0, 2, 5):
            yield Case(f"a moving baseline, {length} samples in, guard {guard}", replace(only, guard=guard),
                       runs(*ramp[:length], (NOTHING, 3), (HIT, 1), (LYING, 9)))
    for end in (-32768, 32767):
        yield Case(f"a baseline of {end} and zero", replace(only, restart_on=False),
                   runs(((end, 0, 300), 2), ((0, end, 300), 2), ((end, end, 300), 2), (NOTHING, 3), (HIT, 1),
                        (LYING, 9)))
    for sum_of in ((1, -1, 2), (2, -2, 3), (3, -3, 1), (-5, 6, -7)):
        x, y, z = sum_of
        quarter = replace(only, free_fall_on=False, guard=0, observe=4)
        yield Case(f"means of sums {sum_of} over four", quarter,
                   runs(((1, 1, 1), 3), ((x - 3, y - 3, z - 3), 1), (HIT, 1), (LYING, 4), ((2, 2, 2), 3),
                        ((x - 6, y - 6, z - 6), 1)))
    yield Case("no direction before", only, runs((NOTHING, 9), (HIT, 1), (LYING, 9)))
    yield Case("no direction after", replace(only, free_fall_run=2),
               runs((STANDING, 9), (NOTHING, 2), (HIT, 1), (STANDING, 4), (NOTHING, 5)))
    yield Case("the row's own samples are no baseline", only,
               runs((STANDING, 9), ((60, 20, 10), 12), (HIT, 1), (LYING, 9)))


def reclined_cases() -> Iterator[Case]:
    only = replace(BASE, busy_on=False, tilt_on=False, still_on=False)
    for u, a in (((20, 190, -40), LYING), ((-3, 7, 2), (-90, -110, 60)), ((16384, -16384, 16384), (120, 30, -100)),
                 ((0, 0, 1), (0, 170, 3)), ((COSINE_ONE, 0, 0), (-200, 0, 0)), ((0, -1, 0), (0, -200, 0))):
        exact = cosine_between(u, a)
        for cosine in (exact - 1, exact, exact + 1):
            if abs(cosine) <= COSINE_ONE:
                rule = replace(only, upright=u, reclined_cosine=cosine)
                yield Case(f"lying at {a} from {u}, cosine {cosine}", rule, fall(rule, after=a))
    yield Case("lying in free fall", only, fall(only, after=NOTHING))


def still_cases() -> Iterator[Case]:
    only = replace(BASE, busy_on=False, tilt_on=False, reclined_on=False, observe=4)
    x, y, z = LYING
    for axis in range(3):
        for by, last in ((10, 10), (10, 9), (10, 11)):
            def moved(by: int, axis: int = axis) -> Vector:
                return x + by * (axis == 0), y + by * (axis == 1), z + by * (axis == 2)
            yield Case(f"RMS of still along {'xyz'[axis]}, the last by {last}", only,
                       (*fall(replace(only, observe=0), after=LYING)[:-1],
                        *runs((LYING, only.settle), (moved(by), 1), (moved(-by), 2), (moved(last), 1))))
    yield Case("settling is not observed", only,
               runs((STANDING, 9), (NOTHING, 3), (HIT, 1), ((100, 20, 30), 3), ((20, 150, 30), 1), (LYING, 4)))
    yield Case("what moved before a restart is forgotten", only,
               runs((STANDING, 9), (NOTHING, 3), (HIT, 1), (LYING, 5), ((90, 0, 90), 1), ((280, -191, 90), 1),
                    (LYING, 8)))


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
    random = Random(seed)

    def reading(x: float, y: float, z: float, shake: float) -> Run:
        x, y, z = (round((c + random.gauss(0, shake)) * counts_per_g) for c in (x, y, z))
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
