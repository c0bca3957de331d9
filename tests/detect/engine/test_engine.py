"""The engine gives the reference's attempts, every field of them, over any corpus."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.engine import engine, extremes, index, sums, verdicts
from detect.engine.engine import Engine
from detect.rule.attempt import ENDS
from detect.rule.integers import BOUNDS, Rule, low_stays_below_impact
from detect.rule.reference import attempts_of
from detect.scoring.corpus import Corpus, corpus_of
from tests.detect.strategies import Rolled, Signal, make_rule, make_signal, rules_with_signals


def assert_equal(engine: Engine, rule: Rule, recordings: list[Signal]) -> None:
    """Every field of every attempt, and the columns that scoring takes."""
    wanted = [(r, attempt) for r, recording in enumerate(recordings)
              for attempt in attempts_of(rule, [stretch.tolist() for stretch in recording])]
    found = engine.evaluate(rule)
    assert [(int(found.recording[i]), found.attempt(i)) for i in range(len(found))] == wanted
    found.columns  # noqa: B018 - all at once takes another way than one by one
    assert [found.attempt(i) for i in range(len(found))] == [attempt for _, attempt in wanted]
    alarms = [(r, attempt.impact) for r, attempt in wanted if attempt.ended == "alarm"]
    assert list(zip(found.alarm_recording.tolist(), found.alarm_impact.tolist(), strict=True)) == alarms
    assert [ENDS[code] for code in found.ended] == [attempt.ended for _, attempt in wanted]
    assert [i for r in range(len(recordings)) for i in found.of(r)] == list(range(len(wanted)))


@settings(deadline=None, max_examples=250)
@given(rules_with_signals(recordings=3))
def test_engine_equals_reference(drawn: tuple[Rule, list[Signal]]) -> None:
    rule, recordings = drawn
    assert_equal(Engine(corpus_of(recordings)), rule, recordings)


@pytest.mark.parametrize("seed", range(20))
def test_one_engine_equals_reference_under_one_rule_after_another(seed: int) -> None:
    """What the engine keeps between calls never shows."""
    dice = Rolled(seed)
    rules = [make_rule(dice) for _ in range(8)]
    recordings = [make_signal(rule, dice) for rule in rules for _ in range(4)]
    engine = Engine(corpus_of(recordings))
    for rule in rules:
        assert_equal(engine, rule, recordings)


@pytest.mark.parametrize("seed", range(20))
def test_one_setting_moved_after_another_leaves_no_trace(seed: int) -> None:
    """As sliders do: of all that is kept, one step's input changes at a time."""
    dice = Rolled(100 + seed)
    rule = make_rule(dice)
    recordings = [make_signal(rule, dice) for _ in range(20)]
    one = Engine(corpus_of(recordings))
    names = [name for name, *_ in BOUNDS] + ["free_fall_on", "restart_on", "active_on", "tilt_on", "still_on"]
    for _ in range(25):
        name = dice.pick(names)
        moved = replace(rule, **{name: getattr(make_rule(dice), name)})
        if low_stays_below_impact(moved):
            rule = moved
        assert_equal(one, rule, recordings)


@pytest.mark.parametrize("seed", range(10))
def test_what_is_only_done_with_many_samples_is_done_right(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    as_if_large(monkeypatch)
    test_one_setting_moved_after_another_leaves_no_trace(1000 + seed)


@settings(deadline=None, max_examples=150)
@given(rules_with_signals(recordings=3), st.booleans(), st.booleans())
def test_every_mode_of_a_large_corpus_equals_reference(
        drawn: tuple[Rule, list[Signal]], free_fall_on: bool, restart_on: bool) -> None:
    rule = replace(drawn[0], free_fall_on=free_fall_on, restart_on=restart_on)
    if low_stays_below_impact(rule):
        with pytest.MonkeyPatch.context() as patch:
            as_if_large(patch)
            assert_equal(Engine(corpus_of(drawn[1])), rule, drawn[1])


def as_if_large(patch: pytest.MonkeyPatch) -> None:
    """Everything that is only done with many samples: sums up to every 8th, few tops, verdicts as the walk asks."""
    patch.setattr(engine, "MANY", 0)
    patch.setattr(engine, "FEWEST", 1)
    patch.setattr(index, "FEW_TOPS", 0)
    patch.setattr(extremes, "FEW_BLOCKS", 0)
    patch.setattr(sums, "SMALL", 0)
    patch.setattr(verdicts, "FEW", 0)
    patch.setattr(verdicts, "MUCH", 3)


@given(st.lists(st.lists(st.integers(0, 3), max_size=3), max_size=4))
def test_a_corpus_knows_where_recordings_and_stretches_begin(lengths: list[list[int]]) -> None:
    rng = np.random.default_rng(1)
    recordings = [[rng.integers(-9, 9, (n, 3), dtype=np.int16) for n in recording] for recording in lengths]
    corpus = corpus_of(recordings)
    assert corpus.recordings == len(recordings)
    cuts = corpus.recording_first.tolist()
    for i, recording in enumerate(recordings):
        part = corpus.counts[cuts[i]:cuts[i + 1]]
        assert part.tolist() == [row for stretch in recording for row in stretch.tolist()]
        firsts = [int(f) - cuts[i] for f in corpus.stretch_first if cuts[i] <= f < cuts[i + 1]]
        sizes = [len(stretch) for stretch in recording if len(stretch)]
        assert firsts == [sum(sizes[:j]) for j in range(len(sizes))]


def test_a_corpus_that_does_not_fit_together_is_refused() -> None:
    counts = np.zeros((4, 3), dtype=np.int16)
    firsts = np.array([0, 2])
    with pytest.raises(ValueError, match="every recording's first sample"):
        Corpus(counts, firsts, np.array([0, 1, 4]))
    with pytest.raises(ValueError, match="int16"):
        Corpus(counts.astype(np.int32), firsts, np.array([0, 4]))
    with pytest.raises(ValueError, match="ascend from 0"):
        Corpus(counts, firsts, np.array([0, 3]))


def test_an_engine_can_be_sent_to_another_process() -> None:
    dice = Rolled(5)
    rule = make_rule(dice)
    recordings = [make_signal(rule, dice) for _ in range(10)]
    sent = pickle.dumps(Engine(corpus_of(recordings)))
    assert len(sent) < 10_000
    assert_equal(pickle.loads(sent), rule, recordings)


def test_building_tells_how_far_it_is() -> None:
    told: list[float] = []
    Engine(corpus_of([[np.zeros((100, 3), dtype=np.int16)]]), told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
