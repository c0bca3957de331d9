import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd
from detect.rule.integers import integer_of, rule_of, slider_range, value_of
from detect.rule.reference import attempts_of
from detect.rule.settings import DEFAULTS, BadSetting
from detect.rule.timeline import even
from detect.scoring.corpus import corpus_of
from detect.scoring.nearest_approach import filtered
from detect.scoring.score import OUTCOMES, events_from, owners_of, score
from detect.scoring.what_would_it_take import Nearby, nearby, what_would_it_take
from tests.detect.rule.test_explanation import FRONT, UPRIGHT, fall

SMALL = FrontEnd(4.0, 8, 20.0)
"""So few counts and samples that every integer of every slider can be tried."""


class Bench:
    """A corpus, its events and what one asks of them."""

    def __init__(self, recordings, kinds, front_end=FRONT):
        self.front_end = front_end
        self.corpus = corpus_of([[r] for r in recordings])
        self.engine = Engine(self.corpus)
        lines = [even(len(r), front_end.rate_hz) for r in recordings]
        none = [None] * len(recordings)
        self.events = events_from(range(len(recordings)), kinds, none, none, lines)

    def outcomes(self, rule):
        found = self.engine.evaluate(rule)
        return score(found.alarm_recording, found.alarm_impact, self.events).outcome

    def takes(self, event, chosen=DEFAULTS):
        near = nearby(self.corpus, rule_of(chosen, self.front_end).prefilter, self.events, event)
        return {take.key: take
                for take in what_would_it_take(chosen, self.front_end, near, event, self.outcomes)}


def test_a_fall_missed_by_a_weak_impact_takes_a_lower_threshold_and_nothing_else():
    bench = Bench([fall(impact_g=1.69), fall(), fall(impact_g=1.8), fall(impact_g=1.75)], [True, True, True, False])
    assert [OUTCOMES[o] for o in bench.outcomes(rule_of(DEFAULTS, FRONT))] == ["missed", "caught", "missed", "quiet"]
    takes = bench.takes(0)
    assert takes["impact_g"].integer == 865
    assert takes["impact_g"].value == pytest.approx(1.69, abs=1 / 512)
    assert (takes["impact_g"].fixes, takes["impact_g"].breaks) == (2, 1)  # it counts itself; a quiet one breaks
    for key in ("still_g", "free_fall_g", "settle_ms", "observe_ms", "tilt_deg", "impact_within_ms", "restart_on"):
        assert takes[key].value is None, key


def test_a_fall_missed_by_moving_takes_a_laxer_limit_or_none():
    takes = Bench([fall(shake_g=0.19)], [True]).takes(0)
    assert takes["still_g"].value == pytest.approx(0.19, abs=1 / 512)
    assert takes["still_on"].value is False
    assert takes["tilt_deg"].value is None


def test_a_false_alarm_takes_the_nearest_value_that_silences_it():
    takes = Bench([fall(), fall(impact_g=2.2)], [True, False]).takes(1)
    assert takes["impact_g"].value == pytest.approx(2.2, abs=1.5 / 512)
    assert takes["impact_g"].value > 2.2
    assert (takes["impact_g"].fixes, takes["impact_g"].breaks) == (1, 0)
    assert takes["tilt_deg"].value == pytest.approx(90, abs=0.2)
    assert takes["tilt_deg"].breaks == 1
    assert takes["free_fall_ms"].value == 220
    assert takes["reclined_on"].value is None


def test_the_nearest_value_may_lie_on_either_side_and_both_are_looked_at():
    # Missed for want of a deep enough low phase in the end: only 40 ms of it are below 0.6 g.
    counts = fall(low_ms=40)
    takes = Bench([counts], [True]).takes(0)
    assert takes["free_fall_ms"].value == 40
    assert takes["free_fall_on"].value is False
    assert takes["free_fall_g"].value is None


@st.composite
def small_studies(draw):
    """Two short recordings at 8 bits and 20 Hz with random phases, and settings in reach of what happens there."""
    recordings = []
    for _ in range(2):
        parts = []
        for _ in range(draw(st.integers(2, 8))):
            size = draw(st.sampled_from([0.0, 0.3, 0.5, 0.9, 1.0, 1.1, 1.6, 2.0, 2.6, 3.5]))
            axis = draw(st.integers(0, 2))
            parts.append(np.tile(np.eye(3)[axis] * size, (draw(st.integers(1, 25)), 1)))
        g = np.concatenate(parts)
        g += np.random.default_rng(draw(st.integers(0, 99))).normal(0, draw(st.sampled_from([0.0, 0.05])), g.shape)
        recordings.append(np.clip(np.floor(g * SMALL.k + 0.5), -128, 127).astype(np.int16))
    chosen = DEFAULTS
    for key, options in (("free_fall_on", (True, False)), ("active_on", (True, False)), ("reclined_on", (True, False)),
                         ("tilt_on", (True, False)), ("settle_ms", (100.0, 300.0)), ("observe_ms", (200.0, 500.0)),
                         ("baseline_ms", (200.0, 500.0)), ("guard_ms", (0.0, 100.0)),
                         ("active_window_ms", (250.0, 500.0)), ("hold_off_ms", (500.0,))):
        chosen = chosen.with_value(key, draw(st.sampled_from(options)))
    return recordings, draw(st.lists(st.booleans(), min_size=2, max_size=2)), chosen


def _nearest_by_trying_all(bench, chosen, key, event):
    """Every integer of the slider on the whole corpus: the distance of the nearest that flips, None without one."""
    rule = rule_of(chosen, SMALL)
    here, now = integer_of(key, rule), bench.outcomes(rule)[event]
    least, most = slider_range(key, chosen, SMALL)
    for distance in range(1, most - least + 1):
        for integer in (here - distance, here + distance):
            if not least <= integer <= most:
                continue
            try:
                other = rule_of(chosen.with_value(key, value_of(key, integer, SMALL, rule)), SMALL)
            except BadSetting:
                continue
            if bench.outcomes(other)[event] != now:
                return distance
    return None


@settings(max_examples=12, deadline=None)
@given(small_studies(), st.sampled_from(["free_fall_g", "impact_g", "still_g", "active_share_pct", "active_band_g",
                                         "settle_ms", "guard_ms", "free_fall_ms", "impact_within_ms"]))
def test_no_nearer_value_flips_the_event(study, key):
    recordings, kinds, chosen = study
    bench = Bench(recordings, kinds, SMALL)
    found = bench.takes(0, chosen)[key]
    expected = _nearest_by_trying_all(bench, chosen, key, 0)
    if found.integer is None:
        switch_off = (key.startswith("active") and not chosen["active_on"]) or \
            (key in ("free_fall_g", "free_fall_ms", "impact_within_ms") and not chosen["free_fall_on"])
        assert expected is None or switch_off
    else:
        assert abs(found.integer - integer_of(key, rule_of(chosen, SMALL))) == expected


@settings(max_examples=25, deadline=None)
@given(small_studies())
def test_a_value_found_does_flip_the_event_and_all_are_counted_right(study):
    recordings, kinds, chosen = study
    bench = Bench(recordings, kinds, SMALL)
    before = bench.outcomes(rule_of(chosen, SMALL))
    for take in bench.takes(0, chosen).values():
        if take.value is None:
            continue
        after = bench.outcomes(rule_of(chosen.with_value(take.key, take.value), SMALL))
        assert after[0] != before[0]
        right = [(OUTCOMES[was] in ("caught", "quiet"), OUTCOMES[now] in ("caught", "quiet"))
                 for was, now in zip(before, after, strict=True)]
        assert (take.fixes, take.breaks) == (right.count((False, True)), right.count((True, False)))


def test_a_long_recording_is_looked_at_around_the_event_and_gives_the_same():
    stand = np.tile((np.array(UPRIGHT) * 512).astype(np.int16), (60_000, 1))
    counts = np.concatenate([stand, fall(impact_g=1.69), stand])
    corpus = corpus_of([[counts]])
    events = events_from([0], [True], [1203.0], [1204.0], [even(len(counts), 50.0)])
    near = nearby(corpus, 1, events, 0)
    assert len(near.squares) == 40_000 + 126
    assert near.run(rule_of(DEFAULTS, FRONT))[0] is False
    assert near.run(rule_of(DEFAULTS.with_value("impact_g", 1.6), FRONT))[0] is True


def test_it_needs_nothing_but_runs_so_the_reference_serves_as_well():
    counts, other = fall(impact_g=1.69), fall()
    bench = Bench([counts, other], [True, True])
    v, valid = filtered(counts, np.array([0]), 1)

    def run(rule):
        found = attempts_of(rule, [[tuple(map(int, s)) for s in counts]])
        impacts = np.array([a.impact for a in found if a.ended == "alarm"], dtype=np.int64)
        return bool((owners_of(np.zeros_like(impacts), impacts, bench.events) == 0).any()), lambda: found

    near = Nearby(run, np.sum(v * v, axis=1)[valid], np.abs(v).max(axis=1)[valid])
    takes = {}
    for take in what_would_it_take(DEFAULTS, FRONT, near, 0, bench.outcomes):
        takes[take.key] = take
        if take.key == "impact_g":
            break
    assert takes["impact_g"] == bench.takes(0)["impact_g"]
