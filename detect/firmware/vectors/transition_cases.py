"""The cases of the golden vectors, first half: each transition and each check, at its bound and beside it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from detect.firmware.vectors.detector import (
    BASE,
    GAP,
    HIT,
    LYING,
    NOTHING,
    STANDING,
    VectorCase,
    beside,
    cosine_between,
    fall,
    runs,
    with_checks,
    with_square,
)
from detect.rule.attempt import CHECKS
from detect.rule.integers import COSINE_ONE, LARGEST_THRESHOLD
from detect.rule.reference import Vector, dot

# Free fall and impact.


def low_cases() -> Iterator[VectorCase]:
    for name, v in beside(BASE.free_fall):
        yield VectorCase(f"low {name}", BASE, runs((STANDING, 8), (v, 3), (HIT, 1), (LYING, 10), GAP))
    axes = replace(BASE, every_axis=True)
    f = axes.free_fall
    for axis in range(3):
        for size in (f - 1, f, f + 1, 1 - f, -f, -f - 1):
            x, y, z = (size if i == axis else other for i, other in enumerate((f - 1, 1 - f, f - 2)))
            yield VectorCase(f"every axis, {'xyz'[axis]} = {size}", axes,
                       runs((STANDING, 8), ((x, y, z), 3), (HIT, 1), (LYING, 9), GAP))
    for name, rule in (("magnitude", BASE), ("every axis", axes)):
        yield VectorCase(f"{name}: what tells the two apart", rule, runs((STANDING, 8), ((90, 80, 70), 4), GAP))
    for length in range(BASE.free_fall_run - 1, BASE.free_fall_run + 3):
        yield VectorCase(f"{length} low samples", BASE,
                         runs((STANDING, 9), (NOTHING, length), (HIT, 1), (LYING, 9), GAP))
    yield VectorCase("a run that is broken does not count on", BASE,
               runs((STANDING, 9), (NOTHING, 2), (STANDING, 1), (NOTHING, 2), (HIT, 1), (LYING, 9), GAP))
    yield VectorCase("the smallest of a run", BASE,
                     runs((STANDING, 9), ((50, 3, 2), 1), ((9, 8, 4), 1), ((60, 0, 0), 3),
                                                   ((9, 8, 7), 1), ((30, 0, 0), 1), (STANDING, 2), GAP))
    yield VectorCase("a run that falls, then falls further once primed", BASE,
               runs((STANDING, 9), ((50, 3, 2), 1), ((40, 0, 0), 1), ((30, 0, 0), 2), ((20, 0, 0), 1), (STANDING, 2)))
    yield VectorCase("first of a run is its smallest", BASE,
               runs((STANDING, 9), ((1, 2, 3), 1), ((60, 0, 0), 3), (STANDING, 2), GAP))


def impact_cases() -> Iterator[VectorCase]:
    for name, v in beside(BASE.impact):
        yield VectorCase(f"impact {name}", BASE, runs((STANDING, 9), (NOTHING, 3), (v, 1), (LYING, 9), GAP))
        off = replace(BASE, free_fall_on=False)
        yield VectorCase(f"impact {name}, free fall off", off, runs((STANDING, 9), (v, 1), (LYING, 9), GAP))
    for wait in range(BASE.impact_within - 2, BASE.impact_within + 2):
        yield VectorCase(f"impact {wait + 1} samples after the last qualified one", BASE,
                   runs((STANDING, 9), (NOTHING, 3), (STANDING, wait), (HIT, 1), (LYING, 9), GAP))
    yield VectorCase("qualified again, the deadline moves", BASE,
               runs((STANDING, 9), (NOTHING, 5), (STANDING, 4), (NOTHING, 3), (STANDING, 5), (HIT, 1), (LYING, 9)))
    yield VectorCase("low again but too short, the deadline stays", BASE,
               runs((STANDING, 9), (NOTHING, 5), (STANDING, 3), (NOTHING, 2), (STANDING, 1), (HIT, 1), (LYING, 9)))
    yield VectorCase("lowest and highest while primed", BASE,
               runs((STANDING, 9), ((10, 0, 0), 3), (STANDING, 1), ((0, 200, 60), 1), ((0, 5, 0), 1), ((0, 0, 9), 1),
                    ((190, 0, 0), 1), (HIT, 1), (LYING, 9)))
    yield VectorCase("an impact that is the lowest yet", replace(BASE, free_fall=101, impact=101),
               runs((STANDING, 9), ((100, 1, 0), 3), ((101, 0, 0), 1), ((40, 0, 90), 9)))
    yield VectorCase("nothing, twice over", BASE, runs((STANDING, 9), (NOTHING, 3), (STANDING, 12), (NOTHING, 4),
                                                 (STANDING, 12)))
    yield VectorCase("no second attempt without a new run", BASE,
                     runs((STANDING, 9), (NOTHING, 3), (STANDING, 6), (HIT, 3),
                                                                 (STANDING, 9)))
    one = replace(BASE, free_fall_run=1, impact_within=1)
    yield VectorCase("one low sample, impact at once or never", one,
               runs((STANDING, 9), (NOTHING, 1), (HIT, 1), (LYING, 17), (NOTHING, 1), (STANDING, 1), (HIT, 1),
                    (LYING, 9), GAP))
    low_ignored = replace(BASE, free_fall_on=False, free_fall=LARGEST_THRESHOLD)
    yield VectorCase("impact with free fall off, primed never", low_ignored,
               runs((NOTHING, 9), (HIT, 1), (LYING, 9), GAP))


# Settling, observing, restarts.


def wait_cases() -> Iterator[VectorCase]:
    square = dot(HIT, HIT)
    start = runs((STANDING, 9), (NOTHING, 3), (HIT, 1))
    for on in (True, False):
        rule = replace(BASE, restart_on=on)
        for name, target in (("as big", square), ("just bigger", square + 2), ("just smaller", square - 2)):
            second = with_square(target)
            for wait in (0, 3, 4, 6, 7, 8, 9):
                yield VectorCase(f"{name} after {wait} samples, restart {'on' if on else 'off'}", rule,
                           (*start, *runs((LYING, wait), (second, 1), (LYING, 12))))
    yield VectorCase("peak of settling, restart off", replace(BASE, restart_on=False),
               (*start, *runs((LYING, 1), ((300, 200, 90), 1), ((300, 100, 90), 1), (LYING, 12))))
    yield VectorCase("restarted thrice", BASE,
               (*start, *runs((LYING, 2), ((300, 200, 90), 1), (LYING, 5), ((320, 200, 90), 1), ((340, 200, 90), 1),
                              (LYING, 12))))
    yield VectorCase("two attempts, what was counted starts anew", BASE,
               (*start, *runs((LYING, 2), ((300, 200, 90), 1), (LYING, 9), (STANDING, 10), (NOTHING, 3), (HIT, 1),
                              (LYING, 9))))
    for settle, observe in ((1, 1), (1, 5), (4, 1)):
        rule = replace(BASE, settle=settle, observe=observe)
        yield VectorCase(f"settle {settle}, observe {observe}", rule, (*fall(rule), *runs((LYING, 3))))
    blind = replace(BASE, tilt_on=False, reclined_on=False, still_on=False)
    variants = {"active on": blind, "active off": replace(blind, active_on=False), "settle 1": replace(blind, settle=1)}
    for name, rule in variants.items():
        yield VectorCase(f"nothing to observe, {name}", rule, (*fall(rule), *fall(rule)))
    for check in CHECKS:
        only, without = with_checks({check}), with_checks(set(CHECKS) - {check})
        yield VectorCase(f"only {check}", only, (*fall(only), *fall(only, before=LYING)))
        yield VectorCase(f"all but {check}", without, (*fall(without), *fall(without, before=LYING)))


# The checks.


def active_cases() -> Iterator[VectorCase]:
    rule = replace(BASE, tilt_on=False, reclined_on=False, still_on=False)
    edges = [*((f"lo {n}", v) for n, v in beside(rule.active_low)),
             *((f"hi {n}", v) for n, v in beside(rule.active_high))]
    for name, v in edges:
        for most in (5, 6):
            yield VectorCase(f"six samples {name}, at most {most}", replace(rule, active_most=most),
                       runs((v, 6), (STANDING, 2), (NOTHING, 3), (HIT, 1), (LYING, 4)))
    shake: Vector = (10, 251, 30)
    for place in range(10):
        yield VectorCase(f"active {10 - place} samples before", replace(rule, active_most=0),
                   runs((STANDING, place), (shake, 1), (STANDING, 9 - place), (NOTHING, 3), (HIT, 1), (LYING, 4)))
    for count in (3, 4):
        yield VectorCase(f"{count} active of at most 3", rule,
                   runs((STANDING, 2), (shake, count), (STANDING, 6 - count + 2), (NOTHING, 3), (HIT, 1), (LYING, 4)))
    for filled in (7, 8):
        yield VectorCase(f"{filled} samples since the start", rule,
                   runs((shake, filled), (NOTHING, 3), (HIT, 1), (LYING, 4)))
        yield VectorCase(f"{filled} samples since a gap", rule,
                   runs((shake, 9), GAP, (shake, filled), (NOTHING, 3), (HIT, 1), (LYING, 4)))
    long = replace(rule, guard=13, active_window=27, active_most=9)
    mixed = [(shake if i * i % 7 in (1, 2) else STANDING, 1) for i in range(90)]
    for length in (39, 40, 41, 58, 77, 90):
        yield VectorCase(f"an active window over three words, {length} samples in", long,
                   runs(*mixed[:length], (NOTHING, 3), (HIT, 1), (LYING, 4)))
    for window in (1, 16, 17):
        for guard in (0, 1, 15):
            narrow = replace(rule, guard=guard, active_window=window, active_most=0)
            yield VectorCase(f"a ring of {guard} and {window} bits, just filled", narrow,
                       (*runs((STANDING, guard + window)), *fall(narrow)[1:]))
            yield VectorCase(f"a ring of {guard} and {window} bits", narrow,
                       (*runs((shake, 1), (STANDING, guard + window)), *fall(narrow)[1:],
                        *runs((STANDING, 8), (shake, 1), (STANDING, guard + window - 1)), *fall(narrow)[1:]))
    yield VectorCase("no guard", replace(rule, guard=0, active_most=2),
               runs((STANDING, 5), (shake, 3), (NOTHING, 3), (HIT, 1), (LYING, 12), (STANDING, 4), (shake, 2),
                    (NOTHING, 3), (HIT, 1), (LYING, 4)))


def tilt_cases() -> Iterator[VectorCase]:
    only = replace(BASE, active_on=False, reclined_on=False, still_on=False)
    for b, a in ((STANDING, LYING), ((21, -188, 42), LYING), ((3, 5, -2), (-1, 2, 4)), ((190, 7, -31), (11, 189, 5)),
                 ((-32768, -32768, -32768), (-32768, -32768, 32767)), ((16384, 3, 0), (-5, 16383, 7)),
                 ((-32768, -32768, -32768), (-32768, -32000, -31000)), ((32767, 2, 1), (32767, 32767, 32767))):
        exact = cosine_between(b, a)
        for cosine in (exact - 1, exact, exact + 1):
            rule = replace(only, tilt_cosine=cosine)
            if max(map(abs, b)) > 1000:
                rule = replace(rule, restart_on=False)
            yield VectorCase(f"from {b} to {a}, cosine {cosine}", replace(rule, free_fall=1),
                       runs((b, 6), (NOTHING, 3), (HIT, 1), (a, 9)))
    odd: Vector = (16385, 3, -1)  # |odd|² is odd: the root's last bit counts
    for b in (STANDING, odd):
        for cosine in (COSINE_ONE, COSINE_ONE - 1):
            yield VectorCase(f"{b}, not turned at all, cosine {cosine}",
                       replace(only, tilt_cosine=cosine, restart_on=False),
                       fall(replace(only, active_window=1), before=b, after=b))
    for after in ((-21, -188, 42), (-21, -188, 41)):
        for cosine in (-COSINE_ONE, 1 - COSINE_ONE):
            yield VectorCase(f"upside down to {after}, cosine {cosine}", replace(only, tilt_cosine=cosine),
                       fall(replace(only, active_window=1), after=after))
    for filled in (5, 6, 7):
        yield VectorCase(f"tilt, {filled} samples since the start", only,
                   runs((STANDING, filled), (NOTHING, 3), (HIT, 1), (LYING, 9)))
        yield VectorCase(f"tilt, {filled} samples since a gap", only,
                   runs((STANDING, 9), GAP, (STANDING, filled), (NOTHING, 3), (HIT, 1), (LYING, 9)))
    for place in range(8):
        yield VectorCase(f"baseline, the odd one {8 - place} samples before", only,
                   runs((STANDING, place), ((130, -140, 199), 1), (STANDING, 7 - place), (NOTHING, 3), (HIT, 1),
                        (LYING, 9)))
    ramp = [((i * 37 % 101 + 90, 150 - i * 29 % 113, i * 53 % 97 - 48), 1) for i in range(40)]
    for length in (6, 7, 11, 12, 13, 29, 40):
        for guard in (0, 2, 5):
            yield VectorCase(f"a moving baseline, {length} samples in, guard {guard}", replace(only, guard=guard),
                       runs(*ramp[:length], (NOTHING, 3), (HIT, 1), (LYING, 9)))
    for end in (-32768, 32767):
        yield VectorCase(f"a baseline of {end} and zero", replace(only, restart_on=False),
                   runs(((end, 0, 300), 2), ((0, end, 300), 2), ((end, end, 300), 2), (NOTHING, 3), (HIT, 1),
                        (LYING, 9)))
    for sum_of in ((1, -1, 2), (2, -2, 3), (3, -3, 1), (-5, 6, -7)):
        x, y, z = sum_of
        quarter = replace(only, free_fall_on=False, guard=0, observe=4)
        yield VectorCase(f"means of sums {sum_of} over four", quarter,
                   runs(((1, 1, 1), 3), ((x - 3, y - 3, z - 3), 1), (HIT, 1), (LYING, 4), ((2, 2, 2), 3),
                        ((x - 6, y - 6, z - 6), 1)))
    yield VectorCase("no direction before", only, runs((NOTHING, 9), (HIT, 1), (LYING, 9)))
    yield VectorCase("no direction after", replace(only, free_fall_run=2),
               runs((STANDING, 9), (NOTHING, 2), (HIT, 1), (STANDING, 4), (NOTHING, 5)))
    yield VectorCase("the run's own samples are not in the baseline", only,
               runs((STANDING, 9), ((60, 20, 10), 12), (HIT, 1), (LYING, 9)))


def reclined_cases() -> Iterator[VectorCase]:
    only = replace(BASE, active_on=False, tilt_on=False, still_on=False)
    for u, a in (((20, 190, -40), LYING), ((-3, 7, 2), (-90, -110, 60)), ((16384, -16384, 16384), (120, 30, -100)),
                 ((0, 0, 1), (0, 170, 3)), ((COSINE_ONE, 0, 0), (-200, 0, 0)), ((0, -1, 0), (0, -200, 0))):
        exact = cosine_between(u, a)
        for cosine in (exact - 1, exact, exact + 1):
            if abs(cosine) <= COSINE_ONE:
                rule = replace(only, upright=u, reclined_cosine=cosine)
                yield VectorCase(f"lying at {a} from {u}, cosine {cosine}", rule, fall(rule, after=a))
    yield VectorCase("lying in free fall", only, fall(only, after=NOTHING))


def still_cases() -> Iterator[VectorCase]:
    only = replace(BASE, active_on=False, tilt_on=False, reclined_on=False, observe=4)
    x, y, z = LYING
    for axis in range(3):
        for by, last in ((10, 10), (10, 9), (10, 11)):
            def moved(by: int, axis: int = axis) -> Vector:
                return x + by * (axis == 0), y + by * (axis == 1), z + by * (axis == 2)
            yield VectorCase(f"RMS of still along {'xyz'[axis]}, the last by {last}", only,
                       (*fall(replace(only, observe=0), after=LYING)[:-1],
                        *runs((LYING, only.settle), (moved(by), 1), (moved(-by), 2), (moved(last), 1))))
    yield VectorCase("settling is not observed", only,
               runs((STANDING, 9), (NOTHING, 3), (HIT, 1), ((100, 20, 30), 3), ((20, 150, 30), 1), (LYING, 4)))
    yield VectorCase("what moved before a restart is forgotten", only,
               runs((STANDING, 9), (NOTHING, 3), (HIT, 1), (LYING, 5), ((90, 0, 90), 1), ((280, -191, 90), 1),
                    (LYING, 8)))
