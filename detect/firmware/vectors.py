"""Golden vectors: settings, samples, and every event that the reference gives for them, as plumbfall_vectors.h.

A vector's samples are runs of one reading, so that long waits cost eight bytes. The cases are in `vector_parts.py`;
this module asks the reference what each must give, and writes it down in parts that fit a small target.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from math import isqrt

from detect.attempt import CHECKS, ENDS, Attempt
from detect.firmware.fields import FIELDS
from detect.reference import Reference, Vector
from detect.rule import Rule

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
class Case:
    """A vector before the reference has spoken: what it is for, its rule and its samples."""

    name: str
    rule: Rule
    runs: tuple[Run, ...]


@dataclass(frozen=True)
class Part:
    """Vectors that go to the target together. `own`: under plumbfall_params.h, not settings of theirs."""

    title: str
    cases: tuple[Case, ...]
    own: bool = False


def expected(case: Case) -> list[Attempt]:
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
    raise ValueError(f"{square} is no sum of three squares")


def has_mask(attempt: Attempt) -> int:
    """enum plf_has: which fields have a value."""
    told = (attempt.first_low, attempt.highest, attempt.peak, attempt.q, attempt.n, attempt.dot, attempt.dot_u,
            attempt.spread)
    return sum(1 << bit for bit, value in enumerate(told) if value is not None)


def event_numbers(attempt: Attempt) -> list[int]:
    """An attempt as the members of plf_event, in order."""
    a = attempt

    def ago(sample: int | None) -> int:
        return 0 if sample is None else a.decided - sample

    def mask(checks: Sequence[str]) -> int:
        return sum(1 << CHECKS.index(check) for check in checks)

    numbers = [ENDS.index(a.ended), int(a.early), mask(a.failed), mask(a.unspoken), has_mask(a), a.q, a.n, a.decided,
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


def rendered(part: Part) -> RenderedPart:
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
    """What a part takes on the target: 54 bytes a rule, 6 a vector, 8 a run, 88 an event."""
    return 54 * len(part.settings) + 6 * len(part.vectors) + 8 * part.run_count + 88 * len(part.events)


def write_vectors(parts: Iterable[RenderedPart]) -> str:
    """plumbfall_vectors.h; the same parts give the same bytes."""
    parts = tuple(parts)
    lines = [f"/* {NAME}: what the detector must make of these samples; the reference has said so.", " *",
             " * Without PLF_VECTORS_PART all parts are there; define it as a part's number to have one:"]
    lines += [f" *   {number}  {part.title}" for number, part in enumerate(parts, 1)]
    lines += [" */", "#ifndef PLUMBFALL_VECTORS_H", "#define PLUMBFALL_VECTORS_H", "",
              '#include "plumbfall_detector.h"', "", _TYPES]
    for number, part in enumerate(parts, 1):
        lines += [_guard(number), *_part_lines(number, part), "#endif", ""]
    lines += ["static const plf_part plf_parts[] = {"]
    for number, part in enumerate(parts, 1):
        lines += [_guard(number),
                  f"    {{ plf_settings_{number}, plf_vectors_{number}, plf_runs_{number}, plf_events_{number}, "
                  f"{len(part.vectors)} }},", "#endif"]
    lines += ["};", "", "#endif"]
    return "\n".join(lines) + "\n"


def _guard(number: int) -> str:
    return f"#if !defined PLF_VECTORS_PART || PLF_VECTORS_PART == {number}"


def _part_lines(number: int, part: RenderedPart) -> list[str]:
    return [f"static const plf_settings plf_settings_{number}[] = {{", *part.settings, "};",
            f"static const plf_vector plf_vectors_{number}[] = {{", *part.vectors, "};",
            f"static const plf_run plf_runs_{number}[] = {{", *part.runs, "};",
            f"static const plf_event plf_events_{number}[] = {{", *(part.events or ("    { 0 }",)), "};"]


def _settings(rule: Rule) -> str:
    """A rule as an initialiser of plf_settings."""
    numbers = [str(field.integer(rule)) for field in FIELDS]
    axes = [i for i, field in enumerate(FIELDS) if field.axis is not None]
    first, last = axes[0], axes[-1] + 1
    return "{ " + ", ".join([*numbers[:first], "{ " + ", ".join(numbers[first:last]) + " }", *numbers[last:]]) + " }"


def _wrapped(items: Sequence[str], width: int = 116) -> list[str]:
    lines, line = [], "   "
    for item in items:
        if len(line) + len(item) + 1 > width:
            lines.append(line)
            line = "   "
        line += " " + item
    return [*lines, line]


assert len(event_numbers(Attempt("alarm", 0))) == len(fields(Attempt)) + 1, "an event says what an attempt says"
