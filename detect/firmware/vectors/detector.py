"""Golden vectors: settings, samples, and every event that the reference gives for them, as plumbfall_vectors.h.

A vector's samples are runs of one reading, so that long waits cost eight bytes. The cases are in `vector_parts.py`;
this module asks the reference what each must give, and writes it down in parts that fit a small target.

What the cases of the golden vectors are put together from: a base rule, readings, and whole falls.

The base rule has windows of a few samples and thresholds whose squares, and the squares beside them, are sums of three
squares. A reading has three different components wherever two could be mistaken for each other.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from math import isqrt

from detect.firmware.header.fields import FIELDS
from detect.firmware.header.generated import initialised
from detect.firmware.header.writer import SPDX
from detect.rule.attempt import CHECKS, ENDS, Attempt
from detect.rule.front_end import FrontEnd
from detect.rule.integers import COSINE_ONE, Rule, rule_of
from detect.rule.reference import Reference, Vector, dot, doubled
from detect.rule.settings import DEFAULTS

NAME = "plumbfall_vectors.h"


@dataclass(frozen=True)
class Run:
    """A reading in counts, `times` over; 0 times is a gap."""

    x: int
    y: int
    z: int
    times: int = 1


GAP = Run(0, 0, 0, 0)


@dataclass(frozen=True)
class VectorCase:
    """A vector before the reference has been asked: what it is for, its rule and its samples."""

    name: str
    rule: Rule
    runs: tuple[Run, ...]


@dataclass(frozen=True)
class VectorPart:
    """Vectors that go to the target together. `own`: under plumbfall_params.h, not settings of theirs."""

    title: str
    cases: tuple[VectorCase, ...]
    own: bool = False


def expected(case: VectorCase) -> list[Attempt]:
    """What the reference makes of a case; nothing ends at the end of a vector unless it ends with a gap."""
    reference, found = Reference(case.rule), []
    for run in case.runs:
        if run.times == 0:
            found.append(reference.gap())
        else:
            found += [reference.step(run.x, run.y, run.z) for _ in range(run.times)]
    return [attempt for attempt in found if attempt is not None]


def with_square(square: int) -> Vector:
    """Some x >= y >= z >= 0 with x² + y² + z² = square; ValueError where none exists (4^a·(8b + 7))."""
    for x in range(isqrt(square), -1, -1):
        left = square - x * x
        for y in range(min(isqrt(left), x), -1, -1):
            z = isqrt(left - y * y)
            if z > y:
                break
            if x * x + y * y + z * z == square:
                return x, y, z
    raise ValueError(f"{square} is not a sum of three squares")


def has_mask(attempt: Attempt) -> int:
    """enum plf_has: which fields have a value."""
    parts = (attempt.first_low, attempt.highest, attempt.peak, attempt.q, attempt.n, attempt.dot, attempt.dot_u,
            attempt.spread)
    return sum(1 << bit for bit, value in enumerate(parts) if value is not None)


def event_numbers(attempt: Attempt) -> list[int]:
    """An attempt as the members of plf_event, in order."""
    a = attempt

    def ago(sample: int | None) -> int:
        return 0 if sample is None else a.decided - sample

    def mask(checks: Sequence[str]) -> int:
        return sum(1 << CHECKS.index(check) for check in checks)

    numbers = [ENDS.index(a.ended), int(a.early), mask(a.failed), mask(a.skipped), has_mask(a), a.q, a.n, a.decided,
               ago(a.first_low), ago(a.last_low), ago(a.first_impact), ago(a.impact), a.lowest, a.highest, a.restarts,
               a.peak, a.dot, a.dot_u, a.a_sq, a.b_sq, a.a_u_sq, a.u_sq, a.spread]
    return [0 if number is None else number for number in numbers]


_TYPES = """\
typedef struct {
    int16_t x, y, z;
    uint16_t times; /* 0: a gap */
} plf_run;
typedef struct {
    uint16_t settings, runs, events; /* which settings of the part, how many of its next runs and events */
} plf_vector;
typedef struct {
    const plf_settings *settings;
    const plf_vector *vectors;
    const plf_run *runs;
    const plf_event *events;
    uint16_t count;
} plf_part;
typedef struct {
    plf_settings settings;
    uint32_t identity; /* of them on plf_vectors_front_end */
    uint16_t first;    /* enum plf_setting: the first out of bounds */
} plf_settings_vector;
typedef struct {
    plf_sensor sensor;
    plf_calibration calibration;
    int32_t raw[3];
    int16_t counts[3];
    uint16_t refused; /* 1: the calibration is out of bounds, and there are no counts */
} plf_sensor_vector;
typedef struct {
    uint16_t vectors, left_out, failed, last_failed; /* last_failed counts from 1 */
} plf_report;
"""


@dataclass(frozen=True)
class RenderedPart:
    """A part with what the reference says of it: rows of C for each table."""

    title: str
    settings: tuple[str, ...]
    vectors: tuple[str, ...]
    runs: tuple[str, ...]
    run_count: int
    events: tuple[str, ...]


def rendered(part: VectorPart) -> RenderedPart:
    """Ask the reference and write down what it says; ValueError for a case without samples."""
    rules = list(dict.fromkeys(case.rule for case in part.cases))
    vectors, runs, events = [], [], []
    for case in part.cases:
        if not case.runs:
            raise ValueError(f"vector {case.name!r} has no samples")
        found = expected(case)
        vectors.append(f"    {{ {rules.index(case.rule)}, {len(case.runs)}, {len(found)} }}, /* {case.name} */")
        runs.append(f"    /* {case.name} */")
        runs += _wrapped([f"{{{r.x},{r.y},{r.z},{r.times}}}," for r in case.runs])
        events += [f"    {{ {', '.join(map(str, event_numbers(attempt)))} }}," for attempt in found]
    settings = ("    PLF_SETTINGS",) if part.own else tuple(f"    {_settings(rule)}," for rule in rules)
    return RenderedPart(part.title, settings, tuple(vectors), tuple(runs),
                        sum(len(case.runs) for case in part.cases), tuple(events))


def flash_bytes(part: RenderedPart) -> int:
    """What a part takes on the target: 2 bytes an integer of a rule, 6 a vector, 8 a run, 88 an event."""
    return 2 * len(FIELDS) * len(part.settings) + 6 * len(part.vectors) + 8 * part.run_count + 88 * len(part.events)


def write_vectors(parts: Iterable[RenderedPart], settings: RenderedSettings, stated: Sequence[str]) -> str:
    """plumbfall_vectors.h; the same parts, settings and lines on plumbfall_params.h give the same bytes."""
    parts = tuple(parts)
    last = len(parts) + 1
    lines = [f"/* {SPDX} */",
             f"/* {NAME}: the events that the detector must give for these samples, by the reference.", " *",
             " * Without PLF_VECTORS_PART all parts are there; define it as a part's number to have one:"]
    lines += [f" *   {number}  {title}" for number, title in enumerate((*(p.title for p in parts), SETTINGS_TITLE), 1)]
    lines += [" */", "#ifndef PLUMBFALL_VECTORS_H", "#define PLUMBFALL_VECTORS_H", "",
              *(f'#include "plumbfall_{name}.h"' for name in ("device", "params", "sensor")), "", *stated, "", _TYPES]
    for number, part in enumerate(parts, 1):
        lines += [_guard(number), *_part_lines(number, part), "#endif", ""]
    lines += [_guard(last), "#define PLF_VECTORS_OF_SETTINGS",
              f"static const plf_front_end plf_vectors_front_end = {settings.front_end};",
              "static const plf_settings_vector plf_settings_vectors[] = {", *settings.rows, "};",
              "static const plf_sensor_vector plf_sensor_vectors[] = {", *settings.sensor, "};", "#endif", "",
              "static const plf_part plf_parts[] = {"]
    for number, part in enumerate(parts, 1):
        lines += [_guard(number),
                  f"    {{ plf_settings_{number}, plf_vectors_{number}, plf_runs_{number}, plf_events_{number}, "
                  f"{len(part.vectors)} }},", "#endif"]
    lines += ["    { 0, 0, 0, 0, 0 } /* C has no empty arrays */", "};", "", "#endif"]
    return "\n".join(lines) + "\n"


SETTINGS_TITLE = "settings and calibrations within their bounds and beyond each of them"


@dataclass(frozen=True)
class RenderedSettings:
    """The front end of all rows as an initialiser, the rows, and those of readings on their way to counts."""

    front_end: str
    rows: tuple[str, ...]
    sensor: tuple[str, ...]

    @property
    def flash_bytes(self) -> int:
        """2 bytes an integer of the settings, 8 for what is expected; 54 a reading."""
        return (2 * len(FIELDS) + 8) * len(self.rows) + 54 * len(self.sensor)


def _guard(number: int) -> str:
    return f"#if !defined PLF_VECTORS_PART || PLF_VECTORS_PART == {number}"


def _part_lines(number: int, part: RenderedPart) -> list[str]:
    return [f"static const plf_settings plf_settings_{number}[] = {{", *part.settings, "};",
            f"static const plf_vector plf_vectors_{number}[] = {{", *part.vectors, "};",
            f"static const plf_run plf_runs_{number}[] = {{", *part.runs, "};",
            f"static const plf_event plf_events_{number}[] = {{", *(part.events or ("    { 0 }",)), "};"]


def _settings(rule: Rule) -> str:
    """A rule as an initialiser of plf_settings."""
    return "{ " + ", ".join(initialised([str(field.integer(rule)) for field in FIELDS])) + " }"


def _wrapped(items: Sequence[str], width: int = 116) -> list[str]:
    lines, line = [], "   "
    for item in items:
        if len(line) + len(item) + 1 > width:
            lines.append(line)
            line = "   "
        line += " " + item
    return [*lines, line]


assert len(event_numbers(Attempt("alarm", 0))) == len(fields(Attempt)) + 1, "an event says what an attempt says"

BASE = replace(
    rule_of(DEFAULTS, FrontEnd()), prefilter=1, free_fall_on=True, every_axis=False, free_fall=101, free_fall_run=3,
    impact=301, impact_within=6, settle=4, observe=5, restart_on=True, guard=2, active_on=True, active_low=150,
    active_high=250, active_window=6, active_most=3, tilt_on=True, tilt_cosine=11585, baseline=4, reclined_on=True,
    reclined_cosine=8192, upright=(20, 190, -40), still_on=True, still=10, hold_off=8)

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
    filled = rule.guard + max(rule.baseline, rule.active_window) + rule.prefilter - 1
    low = rule.free_fall_run + rule.prefilter - 1 if rule.free_fall_on else 0
    rest = rule.settle + (rule.observe if rule.observes else 0)
    return runs((before, filled), (NOTHING, low), (before, wait if rule.free_fall_on else 0), (hit, rule.prefilter),
                (after, rest + rule.prefilter))


def signed(v: Vector, signs: Vector) -> Vector:
    return v[0] * signs[0], v[1] * signs[1], v[2] * signs[2]


def with_checks(on: Collection[str]) -> Rule:
    """The base rule with these checks on and the others off."""
    return replace(BASE, active_on="active" in on, tilt_on="tilt" in on, reclined_on="reclined" in on,
                   still_on="still" in on)


def beside(threshold: int) -> Iterator[tuple[str, Vector]]:
    """Readings at a threshold, one count² beside it, and one count beside it."""
    square = threshold * threshold
    for name, target in (("at", square), ("just below", square - 1), ("just above", square + 1)):
        x, y, z = with_square(target)
        yield name, (y, x, -z)
    yield "a count below", (0, -(threshold - 1), 0)
    yield "a count above", (0, 0, threshold + 1)


def cosine_between(b: Vector, a: Vector) -> int:
    """The least cosine setting that lets this pair pass."""
    b, a = doubled(b), doubled(a)
    return -(-dot(b, a) * COSINE_ONE // math.isqrt(dot(b, b) * dot(a, a)))
