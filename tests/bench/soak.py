"""The long comparison: random rules over random signals through every implementation, differences counted.

    python -m tests.bench.soak --samples 1e8 [--reference 0.001] [--seed 1] [--state FILE] [--batch N]

Batches are numbered, and each is drawn from the seed and its number alone, so a run can be taken up where it stopped
(`--state` remembers) and a batch with a difference can be run again (`--batch`). Two kinds take turns: signals that
sit on every bound, some hundred short recordings, all through the reference; and long ones like everyday life,
through the twins, and through the reference as far as its share goes. Memory is bounded by one batch.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

import numpy as np

from detect.engine.engine import Engine
from detect.firmware.twins.detector import Twin as Detector
from detect.rule.attempt import Attempt
from detect.rule.integers import Rule, cosine, low_stays_below_impact
from detect.rule.reference import attempts_of
from detect.scoring.corpus import corpus_of
from tests.bench.bench_engine import drawn
from tests.bench.made import Maker
from tests.bench.rival import Rival, as_rival, compiler
from tests.detect.strategies import Rolled, Signal, make_rule, make_signal

Twin = Callable[[Rule, Sequence[Signal]], list[list[Attempt]]]
"""Another implementation: the attempts of each recording."""

Twins = dict[str, Twin]
"""By name; compared with the engine on every sample, field by field."""

LONG = 400_000
"""Samples of a long batch."""


@dataclass
class State:
    """What a run has done so far; all of it is in the state file."""

    seed: int
    batches: int = 0
    samples: int = 0
    through_reference: int = 0
    attempts: int = 0
    differences: list[str] = field(default_factory=list)


def reference(rule: Rule, recordings: Sequence[Signal]) -> list[list[Attempt]]:
    return [attempts_of(rule, [stretch.tolist() for stretch in recording]) for recording in recordings]


def by_engine(engine: Engine, rule: Rule, recordings: int) -> list[list[Attempt]]:
    found = engine.evaluate(rule)
    found.columns  # noqa: B018 - all at once is quicker than one by one
    return [[found.attempt(i) for i in found.of(r)] for r in range(recordings)]


def compared(engine: Engine, rule: Rule, recordings: Sequence[Signal], twins: Twins,
             state: State, where: str) -> list[list[Attempt]]:
    """The engine's attempts; every twin that has others is written down."""
    ours = by_engine(engine, rule, len(recordings))
    state.attempts += sum(map(len, ours))
    for name, twin in twins.items():
        theirs = twin(rule, recordings)
        state.differences += [f"{where}, recording {r}: engine and {name} differ under {rule}"
                              for r, (one, other) in enumerate(zip(ours, theirs, strict=True)) if one != other]
    return ours


def on_the_bounds(seed: int, twins: Twins, state: State, where: str) -> None:
    """Rules and signals made for each other, in one engine, so that what it keeps is in the comparison too."""
    dice = Rolled(seed)
    rules = [make_rule(dice) for _ in range(10)]
    recordings = [make_signal(rule, dice) for rule in rules for _ in range(10)]
    engine = Engine(corpus_of(recordings))
    for rule in rules:
        compared(engine, rule, recordings, {"the reference": reference, **twins}, state, where)
    count = sum(len(stretch) for recording in recordings for stretch in recording) * len(rules)
    state.samples += count
    state.through_reference += count


def everyday(seed: int, share: float, twins: Twins, state: State, where: str) -> None:
    """Long signals under rules that mean something, and some that are absurdly lax."""
    rng = np.random.default_rng(seed)
    recordings = [lived(rng, LONG // 8) for _ in range(8)]
    engine = Engine(corpus_of(recordings))
    count = sum(len(stretch) for recording in recordings for stretch in recording)
    with tempfile.TemporaryDirectory() as folder:
        loop = Rival(engine.corpus, Path(folder)) if compiler() is not None else None
        for rule in loosened(rng):
            ours = compared(engine, rule, recordings, twins, state, where)
            state.samples += count
            if loop is not None and not np.array_equal(as_rival(engine.corpus, engine.evaluate(rule)), loop.run(rule)):
                state.differences.append(f"{where}: engine and the C loop differ under {rule}")
            if state.through_reference < share * state.samples:
                r = int(rng.integers(len(recordings)))
                if reference(rule, [recordings[r]]) != [ours[r]]:
                    state.differences.append(f"{where}, recording {r}: engine and the reference differ under {rule}")
                state.through_reference += sum(map(len, recordings[r]))


def lived(rng: np.random.Generator, samples: int) -> Signal:
    """Everyday life with falls, in counts of any front end, cut by gaps."""
    maker, parts, n = Maker(rng, 50.0), [], 0
    while n < samples:
        kind = rng.random()
        part = maker.rest(20) if kind < 0.3 else maker.walk(20) if kind < 0.6 else maker.jog(10) if kind < 0.75 \
            else maker.fall() if kind < 0.9 else maker.hard_landing()
        parts.append(part)
        n += len(part)
    scale, top = rng.choice([(512, 2047), (16, 127), (8192, 32767), (2048, 32767)])
    counts = np.clip(np.floor(np.concatenate(parts)[:samples] * scale + 0.5), -top - 1, top).astype(np.int16)
    counts = counts * np.int16(rng.choice([1, -1])) if top < 32767 else counts
    return np.split(counts, np.sort(rng.integers(0, samples, rng.integers(0, 5))))


def loosened(rng: np.random.Generator) -> Iterator[Rule]:
    """Rules for 512 counts a g, scaled by chance, with stages on and off."""
    for rule in drawn(6, int(rng.integers(2**31)), 50.0):
        by = float(rng.choice([1, 1, 1 / 32, 4, 16]))
        scaled = {name: min(max(round(getattr(rule, name) * by), 1), 56756)
                  for name in ("free_fall", "impact", "still", "active_low", "active_high")}
        on = {name: bool(rng.integers(2)) for name in (
            "free_fall_on", "every_axis", "restart_on", "active_on", "tilt_on", "reclined_on", "still_on")}
        rule = replace(rule, **scaled, **on, prefilter=int(rng.choice([1, 1, 2, 4, 8, 16])),
                       tilt_cosine=cosine(float(rng.uniform(0, 180))))
        if rng.random() < 0.3:
            rule = replace(rule, impact=max(int(rule.impact * 0.55), 1), free_fall_run=1, restart_on=False)
        if not low_stays_below_impact(rule):
            rule = replace(rule, free_fall=max(rule.impact // 2, 1))
        yield rule


@contextmanager
def c_detector() -> Iterator[Twins]:
    """The C detector, built and running, where there is a compiler."""
    if compiler() is None:
        print("No C compiler (Debian: gcc): engine and reference only.")
        yield {}
        return
    with Detector() as detector:
        yield {"the C detector": lambda rule, recordings: [detector.attempts(one, rule) for one in recordings]}


def run(state: State, samples: float, share: float, twins: Twins, keep: Callable[[State], None]) -> None:
    while state.samples < samples:
        batch(state, share, twins)
        state.batches += 1
        keep(state)


def batch(state: State, share: float, twins: Twins) -> None:
    """The next one: on the bounds while the reference is behind its share, else everyday."""
    number = state.batches
    where, seed = f"batch {number} of seed {state.seed}", state.seed * 1_000_003 + number
    if number % 2 == 0 and state.through_reference <= share * max(state.samples, 1):
        on_the_bounds(seed, twins, state, where)
    else:
        everyday(seed, share, twins, state, where)


def main(words: Sequence[str] | None = None) -> int:
    """0 without a difference, 1 with one."""
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--samples", type=float, default=1e7, help="in all, runs before included")
    options.add_argument("--reference", type=float, default=0.001, help="share that goes through the reference too")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--state", type=Path, help="file that remembers how far it got")
    options.add_argument("--batch", type=int, help="only this one again")
    asked = options.parse_args(words)
    state = State(asked.seed)
    if asked.state is not None and asked.state.exists():
        state = State(**json.loads(asked.state.read_text(encoding="utf-8")))
        if state.seed != asked.seed:
            print(f"{asked.state} is of seed {state.seed}: take that one, or another file.")
            return 2
    begun, before = time.perf_counter(), state.samples

    def keep(now: State) -> None:
        if asked.state is not None:
            new = asked.state.with_suffix(".new")
            new.write_text(json.dumps(asdict(now)), encoding="utf-8")
            new.replace(asked.state)
        pace = (now.samples - before) / (time.perf_counter() - begun)
        print(f"\r{now.samples:.3g} samples, {now.through_reference:.3g} through the reference, {now.attempts} "
              f"attempts, {len(now.differences)} differences; {pace:.3g} samples/s", end="", flush=True)

    with c_detector() as twins:
        if asked.batch is None:
            run(state, asked.samples, asked.reference, twins, keep)
        else:
            where, seed = f"batch {asked.batch} of seed {asked.seed}", asked.seed * 1_000_003 + asked.batch
            on_the_bounds(seed, twins, state, where + " on the bounds")
            everyday(seed, 1.0, twins, state, where + " everyday")
    print()
    for difference in state.differences:
        print(difference)
    return 1 if state.differences else 0


if __name__ == "__main__":
    sys.exit(main())
