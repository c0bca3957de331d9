"""The engine, score included, against a plain C loop over the same samples in the same run.

Every value benched is new to the engine, in both directions, and counts only if its attempts are the C loop's.
Ratios are what is held; milliseconds say something about this machine only.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np

from data.demo.write import takes
from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import Rule, cosine, low_stays_below_impact, rule_of
from detect.rule.settings import DEFAULTS
from detect.scoring.corpus import Corpus, corpus_of
from detect.scoring.score import Events, score
from tests.bench.made import Interval, days, trials
from tests.bench.rival import Rival, as_rival, compiler

PRESET = rule_of(DEFAULTS, FrontEnd(4, 12, 50))
ALL_ON = replace(PRESET, active_on=True, reclined_on=True)

EARLY = {"free_fall": 3, "free_fall_run": 1, "impact": 8, "impact_within": 1, "settle": 2}
LATER = {"observe": 2, "guard": 1, "active_low": 3, "active_high": 3, "active_window": 2, "active_most": 1,
         "tilt_cosine": 90, "baseline": 1, "reclined_cosine": 90, "still": 2, "hold_off": 5}
"""Settings and how far one step of a drag moves them."""

BAR_EARLY, BAR_LATER, BAR_LAX, BAR_SWEEP, BAR_CORES, BAR_BUILD_S, BAR_BYTES = 3.0, 10.0, 0.2, 1000.0, 1.7, 0.5, 24.0

LAX = {
    "every step, free fall": replace(PRESET, free_fall=500, free_fall_run=1, impact=520),
    "every step, no free fall": replace(PRESET, free_fall_on=False, impact=530),
    "every step, no free fall, no restart": replace(PRESET, free_fall_on=False, impact=530, restart_on=False),
    "laxest": replace(PRESET, free_fall=512, free_fall_run=1, impact=512),
    "laxest, no free fall": replace(PRESET, free_fall_on=False, impact=512),
    "laxest, no free fall, no restart": replace(PRESET, free_fall_on=False, impact=512, restart_on=False),
}
"""Settings under which every step is a candidate, or at rest every second sample: as lax as sliders go."""

SHORTEST = replace(LAX["laxest"], settle=1, observe=1, impact_within=1)
"""And windows as short as they go: an attempt every ten samples. Shown; there is nothing left to skip."""


def moves(rule: Rule, name: str, step: int, count: int = 6) -> Iterator[Rule]:
    """One setting dragged up, then from where it was down; every value once."""
    start = getattr(rule, name)
    for direction in (1, -1):
        for i in range(1, count + 1):
            moved = replace(rule, **{name: start + direction * i * step})
            if getattr(moved, name) >= 1 and low_stays_below_impact(moved):
                yield moved


def events_of(corpus: Corpus, intervals: list[Interval]) -> Events:
    recording, first, last, is_fall = (np.array(column) for column in zip(*intervals, strict=True))
    return Events(recording, is_fall, first, last, np.maximum(first - 25 * is_fall, 0), last + 50 * is_fall, first,
                  np.zeros(corpus.recordings, dtype=np.int64), np.ones(corpus.recordings),
                  np.ones(corpus.recordings, dtype=bool))


class Bench:
    """One corpus with its engine, its events and its rival."""

    def __init__(self, corpus: Corpus, intervals: list[Interval], folder: Path) -> None:
        self.corpus, self.events = corpus, events_of(corpus, intervals)
        self.build_s = seconds(lambda: Engine(corpus))
        self.engine, self.rival = Engine(corpus), Rival(corpus, folder)
        self.rival.run(PRESET)

    def scored(self, rule: Rule) -> None:
        attempts = self.engine.evaluate(rule)
        score(attempts.alarm_recording, attempts.alarm_impact, self.events)

    def against(self, rules: list[Rule]) -> tuple[list[float], list[float]]:
        """Seconds of ours, score included, move after move as in a drag, and then of the C loop, for each rule."""
        ours = [seconds(lambda rule=rule: self.scored(rule)) for rule in rules]
        theirs = [min(seconds(lambda rule=rule: self.rival.run(rule)) for _ in range(2)) for rule in rules]
        for rule in rules:
            same = np.array_equal(as_rival(self.corpus, self.engine.evaluate(rule)), self.rival.run(rule))
            assert same, f"The C loop finds other attempts under {rule}."
        return ours, theirs


def seconds(work: Callable[[], object]) -> float:
    """Of this thread's processor: what else the machine does doesn't count. Neither side has another thread, waits
    or reads a file."""
    begun = time.thread_time()
    work()
    return time.thread_time() - begun


def drags(bench: Bench, rule: Rule, title: str) -> bool:
    """A line for each setting: median and worst, and the C loop's median over ours."""
    held = True
    for bar, settings in ((BAR_EARLY, EARLY), (BAR_LATER, LATER)):
        for name, step in settings.items():
            bench.scored(rule)
            ours, theirs = bench.against(list(moves(rule, name, step)))
            ratio = statistics.median(theirs) / statistics.median(ours)
            held &= ratio >= bar
            print(f"  {title:8} {name:16} {1e3 * statistics.median(ours):7.2f} ms, worst {1e3 * max(ours):7.2f}; "
                  f"C loop {1e3 * statistics.median(theirs):6.1f} ms: {ratio:5.1f}x "
                  f"(bar {bar:g}){'' if ratio >= bar else '  MISSED'}", flush=True)
    return held


def lax(bench: Bench) -> bool:
    """Settings under which everything is a candidate; nothing kept from before."""
    held = True
    for name, rule in {**LAX, "laxest, shortest": SHORTEST}.items():
        # A virtual machine waits for its host at the first touch of memory: both sides have touched theirs.
        for raised in (3, 2):
            bench.scored(replace(rule, impact=rule.impact + raised))
        bench.scored(PRESET)
        ours, theirs = bench.against([rule, replace(rule, impact=rule.impact + 1)])
        ratio = min(c / e for c, e in zip(theirs, ours, strict=True))
        bar = BAR_LAX if rule is not SHORTEST else 0.0
        held &= ratio >= bar
        print(f"  lax: {name:38} {1e3 * max(ours):7.1f} ms; C loop {1e3 * statistics.median(theirs):6.1f} ms: "
              f"{ratio:5.2f}x (bar {bar:g}){'' if ratio >= bar else '  MISSED'}", flush=True)
    return held


def drawn(count: int, seed: int, rate_hz: float = 40.0) -> list[Rule]:
    """Rules around the preset with all stages on."""
    rng = np.random.default_rng(seed)
    base = replace(rule_of(DEFAULTS, FrontEnd(4, 12, rate_hz)), active_on=True, reclined_on=True, active_most=48,
                   reclined_cosine=cosine(40))
    found = []
    for _ in range(count):
        scale = rng.uniform(0.75, 1.25, 12)
        window = round(base.active_window * scale[8])
        found.append(replace(
            base, free_fall=round(base.free_fall * scale[0]), free_fall_run=int(rng.integers(1, 5)),
            impact=round(base.impact * scale[1]), impact_within=round(base.impact_within * scale[2]),
            settle=round(base.settle * scale[3]), observe=round(base.observe * scale[4]),
            guard=round(base.guard * scale[5]), baseline=round(base.baseline * scale[6]),
            still=round(base.still * 2 * scale[7]), active_window=window, active_most=round(window * 0.6 * scale[9]),
            tilt_cosine=cosine(45 * scale[10]), reclined_cosine=cosine(40 * scale[11]),
            active_high=int(rng.integers(620, 760)), active_low=int(rng.integers(260, 400))))
    return found


def sweep(bench: Bench, count: int = 1500) -> bool:
    rules = drawn(count, 1)
    attempts = [len(bench.engine.evaluate(rule)) for rule in rules[:100]]
    assert min(attempts) >= bench.corpus.recordings / 10, "The settings drawn are too strict to measure with."
    for rule in drawn(20, 2):
        bench.against([rule])
    took = seconds(lambda: [bench.scored(rule) for rule in rules])
    c_loop = statistics.median(seconds(lambda rule=rule: bench.rival.run(rule)) for rule in rules[:200])
    per_second = count / took
    print(f"  sweep, {bench.corpus.recordings} recordings, {bench.corpus.samples} samples: {per_second:.0f} settings/s "
          f"(bar {BAR_SWEEP:g}); C loop {1 / c_loop:.0f}/s{'' if per_second >= BAR_SWEEP else '  MISSED'}", flush=True)
    return per_second >= BAR_SWEEP


def shares(folder: Path, sizes: tuple[int, ...] = (20, 155, 620, 1240)) -> None:
    """Where a setting's time goes: a line through the times of the same sweep over more and more recordings.

    What no recording costs is the interpreter and its calls of NumPy; what each attempt adds is NumPy's own work.
    """
    rules = drawn(200, 4)
    attempts, took, calls = np.array([_cost(Bench(*trials(size), folder), rules) for size in sizes]).T
    each, fixed = np.polyfit(attempts, took, 1)
    at = sizes.index(620)
    print(f"  of a setting's {1e3 * took[at]:.2f} ms over 620 recordings {100 * fixed / took[at]:.0f} % is the "
          f"interpreter with {calls[at]:.0f} calls into C, at any size; the rest {1e9 * each:.0f} ns for each of "
          f"{attempts[at]:.0f} attempts", flush=True)


def _cost(bench: Bench, rules: list[Rule]) -> tuple[float, float, float]:
    """Attempts, seconds and calls into C, a setting."""
    def once() -> None:
        for rule in rules:
            bench.scored(rule)

    attempts = statistics.mean(len(bench.engine.evaluate(rule)) for rule in rules)
    return attempts, min(seconds(once) for _ in range(3)) / len(rules), _c_calls(once) / len(rules)


def _c_calls(work: Callable[[], object]) -> int:
    seen = 0

    def count(frame: object, event: str, argument: object) -> None:
        nonlocal seen
        seen += event == "c_call"

    sys.setprofile(count)
    try:
        work()
    finally:
        sys.setprofile(None)
    return seen


_bench: list[tuple[Engine, Events]] = []


def _set_up(engine: Engine, events: Events) -> None:
    _bench[:] = [(engine, events)]


def _share(rules: list[Rule]) -> int:
    """Falls caught, all together: something that each worker has to send back."""
    engine, events = _bench[0]
    caught = 0
    for rule in rules:
        attempts = engine.evaluate(rule)
        caught += score(attempts.alarm_recording, attempts.alarm_impact, events).matrix.tp
    return caught


def cores(bench: Bench, count: int = 4000) -> bool:
    """The same sweep by one worker and by two."""
    rules = drawn(count, 3)
    chunks = [rules[at:at + 100] for at in range(0, count, 100)]
    times, answers = [], []
    for workers in (1, 2):
        with ProcessPoolExecutor(workers, initializer=_set_up, initargs=(bench.engine, bench.events)) as pool:
            list(pool.map(_share, [rules[:5]] * 4))
            begun = time.perf_counter()
            answers.append(sum(pool.map(_share, chunks)))
            times.append(time.perf_counter() - begun)
    assert answers[0] == answers[1]
    ratio = times[0] / times[1]
    print(f"  two cores against one: {ratio:.2f}x (bar {BAR_CORES:g}){'' if ratio >= BAR_CORES else '  MISSED'}")
    return ratio >= BAR_CORES


def demo(folder: Path) -> None:
    """The demo study, as the window opens it."""
    rate, intervals, counts = 50.0, [], []
    for number, take in enumerate(takes()):
        counts.append([to_counts(take.recording.samples, FrontEnd(4, 12, rate))[0]])
        last = len(take.recording) - 1
        for label in take.labels:
            first = 0 if label.onset_s is None else round(label.onset_s * rate)
            end = last if label.end_s is None else min(round(label.end_s * rate), last)
            intervals.append((number, first, end, label.kind == "fall"))
    bench = Bench(corpus_of(counts), intervals, folder)
    print(f" the demo, {bench.corpus.samples / 1e6:.2f} M samples, {len(bench.events)} events")
    few_moves(bench)


def few_moves(bench: Bench) -> None:
    for name, step in (("free_fall", 3), ("impact", 8), ("observe", 2), ("tilt_cosine", 90)):
        ours, theirs = bench.against(list(moves(PRESET, name, step, 2)))
        print(f"  {name:16} {1e3 * statistics.median(ours):7.2f} ms; "
              f"C loop {1e3 * statistics.median(theirs):6.1f} ms", flush=True)


def memory(corpus: Corpus) -> bool:
    """Bytes a sample that an engine holds after some moves, the corpus included; and at the worst moment."""
    tracemalloc.start()
    engine = Engine(corpus)
    for rule in (PRESET, replace(PRESET, impact=1100), replace(PRESET, free_fall=280)):
        engine.evaluate(rule)
    held, peak = (size / corpus.samples + 6 for size in tracemalloc.get_traced_memory())
    tracemalloc.stop()
    print(f"  memory: {held:.1f} bytes a sample, counts included (bar {BAR_BYTES:g}); {peak:.1f} while building"
          f"{'' if held <= BAR_BYTES else '  MISSED'}")
    return held <= BAR_BYTES


def main(sizes: tuple[int, ...] = (1_000_000, 10_000_000, 60_000_000)) -> bool:
    """Print every figure; whether all bars are held."""
    if compiler() is None:
        print("engine: no C compiler to measure against (Debian: gcc)")
        return True
    held = True
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        small = Bench(*trials(620), folder)
        print("engine, score included:")
        held &= sweep(small) & cores(small)
        shares(folder)
        demo(folder)
        for samples in sizes:
            bench = Bench(*days(samples, samples // 5000), folder)
            print(f" {samples / 1e6:g} M samples, {len(bench.events)} events; index {bench.build_s:.2f} s"
                  f" ({1e9 * bench.build_s / samples:.0f} ns a sample, bar 50)")
            if samples == 10_000_000:
                held &= bench.build_s <= BAR_BUILD_S
                held &= memory(bench.corpus) & drags(bench, PRESET, "preset") & drags(bench, ALL_ON, "all on")
                held &= lax(bench)
            else:
                few_moves(bench)
            del bench
    return held


if __name__ == "__main__":
    sys.exit(0 if main(tuple(int(word) for word in sys.argv[1:]) or (1_000_000, 10_000_000, 60_000_000)) else 1)
