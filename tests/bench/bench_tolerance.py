"""How many devices a second go over 470 recordings: `python -m tests.bench.bench_tolerance [STUDY] [--devices N]`.

Without a study, on made trials of 0.25 million samples. Beside it the plain way in the same run: every stretch through
scipy's polyphase filter at the device's ratio, NumPy's matrix, counts, and a C loop as the rule. The bar: 1 000 devices
within 60 s on two cores, which is 120 ms of processor a device. Ratios are what is held; seconds say something about
this machine only.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from concurrent.futures import Executor
from fractions import Fraction
from pathlib import Path

import numpy as np
from scipy.signal import resample_poly

from app.study.device.tolerance import course_of
from app.study.session import Session
from app.study.workers import processes
from detect.device.quantity_table import device_values
from detect.device.spread.signal import Motion, clock_of, noise_rms, seen_by, sensor
from detect.device.spread.spread import PARAMETERS, Devices, draw
from detect.device.spread.tolerance import Course, tolerances
from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import rule_of
from detect.rule.settings import DEFAULTS
from detect.scoring.corpus import corpus_of
from detect.scoring.score import score
from tests.bench.bench_engine import events_of, seconds
from tests.bench.made import COUNTS_PER_G, trials
from tests.bench.rival import Rival, as_rival, compiler

BAR_S, BAR_CPU_S = 60.0, 0.12
MEASURED = 12
"""Devices measured one by one; the median counts."""
NOISE = [name for name, _ in PARAMETERS].index("noise")
DENOMINATOR = 1000
"""Of the ratio that the polyphase filter is given: a clock to a thousandth."""


def made_course() -> Course:
    front_end = FrontEnd(4, 12, 40)
    corpus, intervals = trials()
    motion = Motion(np.ascontiguousarray(corpus.counts.T / COUNTS_PER_G), corpus.stretch_first)
    recording_of = np.searchsorted(corpus.recording_first, corpus.stretch_first, side="right") - 1
    return Course(motion, recording_of, corpus.recordings, front_end, rule_of(DEFAULTS, front_end),
                  events_of(corpus, intervals), "one pole")


def ours(course: Course, devices: Devices, device: int) -> dict[str, float]:
    """Seconds of one device by step."""
    took = {}
    begun = time.thread_time()
    corpus, _ = seen_by(devices, device, course.motion, course.recording_of, course.recordings, course.front_end,
                        course.noise_filter, course.noise_corner_hz)
    took["through the device"] = time.thread_time() - begun
    begun = time.thread_time()
    found = Engine(corpus).evaluate(course.rule)
    score(found.alarm_recording, found.alarm_impact, course.events)
    took["index, rule, score"] = time.thread_time() - begun
    return took


def plainly(course: Course, devices: Devices, device: int, folder: Path | None) -> float:
    """Seconds of one device, stretch by stretch; without a compiler the rule is left out of them."""
    row = devices.values[device]
    matrix, offset = sensor(row)
    ratio = Fraction(1 + clock_of(row)).limit_denominator(DENOMINATOR)
    corner = course.front_end.rate_hz / 2 if course.noise_corner_hz is None else course.noise_corner_hz
    sigma = noise_rms(float(row[NOISE]), corner, course.noise_filter)
    pieces = np.split(course.motion.g, course.motion.first[1:], axis=1)
    counted: list[np.ndarray] = []

    def through() -> None:
        rng = devices.generator(device)
        for piece in pieces:
            g = resample_poly(piece.T, ratio.numerator, ratio.denominator, axis=0, padtype="line")
            g = g @ matrix.T + offset + sigma * rng.standard_normal(g.shape)
            counted.append(to_counts(g, course.front_end)[0])

    took = seconds(through)
    if folder is None:
        return took
    corpus = corpus_of([[piece] for piece in counted])
    rival = Rival(corpus, folder)
    took += seconds(lambda: rival.run(course.rule))
    assert np.array_equal(as_rival(corpus, Engine(corpus).evaluate(course.rule)), rival.run(course.rule)), \
        "The C loop finds other attempts."
    return took


def rate(course: Course, number: int, executor: Executor | None) -> float:
    """Devices a second by the clock, the first few left out: workers take a second to start."""
    values = device_values({"spread.devices": number, "spread.alone": 0})
    tolerances(course, values.with_value("spread.devices", 8), executor)
    begun = time.perf_counter()
    came = tolerances(course, values, executor)
    # The bounds are looked at besides those drawn, and the nominal device.
    through = number + len(came.ends) + 1
    return through / (time.perf_counter() - begun)


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("study", nargs="?", type=Path)
    parser.add_argument("--devices", type=int, default=200)
    options = parser.parse_args()
    if options.study is None:
        course, name = made_course(), "made trials"
    else:
        session = Session.opened(options.study)
        course, name = course_of(session.study, session.evaluated()[:3]), session.study.title
    course.motion.coefficients  # noqa: B018 - once for all devices
    devices = draw(device_values(), course.front_end, 0, MEASURED)
    print(f"{name}: {course.recordings} recordings, {course.motion.g.shape[1]} samples, {len(course.events)} events")
    steps = [ours(course, devices, i) for i in range(MEASURED)]
    each = float(np.median([sum(one.values()) for one in steps]))
    for step in steps[0]:
        print(f"  {step:24} {1e3 * np.median([one[step] for one in steps]):7.1f} ms of processor a device")
    print(f"  {'in all':24} {1e3 * each:7.1f} ms (bar {1e3 * BAR_CPU_S:g})")
    with tempfile.TemporaryDirectory() as folder:
        other = Path(folder) if compiler() is not None else None
        theirs = float(np.median([plainly(course, devices, i, other) for i in range(4)]))
    what = "polyphase, NumPy, C loop" if other is not None else "polyphase and NumPy, no rule"
    print(f"  {what:24} {1e3 * theirs:7.1f} ms: {theirs / each:.1f}x")
    rates = []
    for cores in (1, 2):
        with processes(cores) as executor:
            rates.append(rate(course, options.devices, executor))
        print(f"  {cores} core{'s' if cores > 1 else ' '}  {rates[-1]:6.1f} devices/s: 1 000 in "
              f"{1000 / rates[-1]:6.1f} s{f' (bar {BAR_S:g})' if cores == 2 else ''}")
    print(f"  two cores against one: {rates[1] / rates[0]:.2f}x")
    return 0 if each <= BAR_CPU_S else 1  # the clock's seconds are also those of whatever else the machine does


if __name__ == "__main__":
    sys.exit(main())
