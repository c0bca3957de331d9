"""The rule on a device that sleeps, against one that is stepped sample by sample, and against always-on."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from detect.device.sleep.awake import duty
from detect.device.sleep.losses import changes, later, line_misses, without_before
from detect.device.sleep.scores import always_on, woken
from detect.device.sleep.wake_settings import (
    BUFFERS,
    FREE_FALL,
    FROZEN,
    NEVER,
    NO_BUFFER,
    RUNNING,
    THRESHOLD,
    TIMER,
    Waking,
)
from detect.engine.attempt_table import ALARM
from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.reference import OBSERVE, PRIMED, SETTLE, Reference
from detect.rule.settings import DEFAULTS
from detect.rule.timeline import even
from detect.scoring.corpus import corpus_of
from detect.scoring.score import events_from, score
from tests.detect.strategies import Dice, Drawn, Rolled, Signal, make_rule, make_signal

HZ = 50.0
AWAKE = Waking(NEVER, 1, 1, 1, (0, 0, 0), HZ, HZ, 0, NO_BUFFER, 8, 1, 10, True, 5, 5)


@st.composite
def devices(draw: st.DrawFn) -> tuple[Rule, list[Signal], Waking]:
    return make_device(Drawn(draw))


def make_device(dice: Dice) -> tuple[Rule, list[Signal], Waking]:
    """A rule, recordings made to sit on its bounds, and a device that sleeps through parts of them."""
    rule = make_rule(dice)
    recordings = [make_signal(rule, dice) for _ in range(dice.between(1, 2))]
    lost = dice.between(0, 4)
    waking = Waking(
        dice.pick((FREE_FALL, THRESHOLD)), dice.pick((rule.free_fall, rule.impact, 1)), dice.between(1, 3), 1,
        dice.between(0, 2), HZ, HZ, lost, dice.pick(BUFFERS), dice.between(1, 12), 1,
        max(lost, 1) + dice.between(0, 9), dice.pick((True, False)), 5, 5)
    return rule, recordings, waking


def stepped(rule: Rule, stretches: Signal, waking: Waking) -> tuple[list[tuple[int, str, int | None]], int]:
    """Of one recording, a sample at a time: decided, ended and impact of each attempt in samples of the recording; and
    how many samples it was awake. Written from the description, with no array in it."""
    found: list[tuple[int, str, int | None]] = []
    awake_for, base, last_alarm = 0, 0, None
    for stretch in stretches:
        high, reference = waking.high(stretch).tolist(), Reference(rule)
        origin: list[int] = []
        ended = []
        asleep, live, until, slept_since = True, 0, 0, 0

        def feed(t, stretch=stretch, reference=reference, origin=origin, ended=ended):
            origin.append(t)
            ended.append(reference.step(*(int(v) for v in stretch[t])))

        def gap(reference=reference, ended=ended):
            ended.append(reference.gap())

        for t in range(len(stretch)):
            if asleep and high[t]:
                asleep, woke, live = False, t, t + waking.lost
            if asleep:
                continue
            awake_for += 1
            if high[t]:
                until = t + waking.stay
            if t >= live:
                if t == live:
                    if waking.buffer == RUNNING:
                        held = range(max(slept_since, live - waking.depth), live)
                    elif waking.buffer == FROZEN:
                        held = range(max(slept_since, woke + 1 - waking.depth), min(woke + 1, live))
                        if live == woke:
                            held = range(max(slept_since, woke + 1 - waking.depth), woke)
                    else:
                        held = range(0)
                    last_fed = origin[-1] if origin else -1
                    start = held[0] if len(held) else live
                    if origin and start != last_fed + 1:
                        gap()
                    for h in held:
                        feed(h)
                    if len(held) and held[-1] + 1 != live:
                        gap()
                feed(t)
            is_open = reference.state in (PRIMED, SETTLE, OBSERVE)
            if t >= until and not (waking.finishes and is_open):
                asleep, slept_since = True, t + 1
        gap()
        last_alarm = None
        for one in ended:
            if one is None:
                continue
            impact = None if one.impact is None else origin[one.impact]
            if one.ended == "alarm":
                if last_alarm is not None and impact <= last_alarm + rule.hold_off:
                    continue
                last_alarm = origin[one.decided]
            found.append((base + origin[one.decided], one.ended, None if impact is None else base + impact))
        base += len(stretch)
    return found, awake_for


ENDS = ("alarm", "no_impact", "rejected", "cut_off")


def assert_as_stepped(rule, recordings, waking):
    found = woken(corpus_of(recordings), rule, waking)
    on = 0
    for r, recording in enumerate(recordings):
        wanted, awake = stepped(rule, recording, waking)
        got = [(int(found.tried.decided[i]), ENDS[found.tried.ended[i]],
                int(found.tried.impact[i]) if found.tried.impact[i] >= 0 else None)
               for i in np.flatnonzero(found.tried.recording == r)]
        assert got == wanted
        on += awake
    assert round(found.duty.awake_s * HZ) == on


@settings(deadline=None, max_examples=60)
@given(devices())
def test_a_sleeping_device_in_arrays_is_the_one_stepped_sample_by_sample(drawn):
    assert_as_stepped(*drawn)


@pytest.mark.parametrize("seed", range(100))
def test_so_is_one_that_is_rolled(seed):
    """Longer signals than hypothesis likes to draw."""
    assert_as_stepped(*make_device(Rolled(seed)))


@settings(deadline=None, max_examples=25)
@given(devices())
def test_a_device_that_never_sleeps_or_whose_line_is_always_high_is_the_rule_itself(drawn):
    rule, recordings, _ = drawn
    corpus = corpus_of(recordings)
    always = always_on(Engine(corpus).evaluate(rule))
    for waking in (AWAKE, replace(AWAKE, line=THRESHOLD, level=0), replace(AWAKE, line=FREE_FALL, level=32769)):
        found = woken(corpus, rule, waking)
        for name in ("recording", "ended", "first", "impact", "decided", "told", "skipped"):
            assert getattr(found.tried, name).tolist() == getattr(always, name).tolist(), name
        assert corpus.samples == 0 or found.duty.share == 1.0
        assert found.short == 0


@settings(deadline=None, max_examples=20)
@given(devices(), st.integers(1, 9))
def test_a_watermark_never_tells_before_the_decision_nor_a_batch_after(drawn, watermark):
    rule, recordings, waking = drawn
    waking = replace(waking, buffer=NO_BUFFER)
    tried = woken(corpus_of(recordings), rule, replace(waking, watermark=watermark)).tried
    late = tried.told - tried.decided
    assert np.all((late >= 0) & (late < watermark))


# A wearer who falls: standing, free fall of 15 samples, an impact, lying. Counts of ±4 g in 12 bits at 50 Hz.

FRONT_END = FrontEnd(4.0, 12, HZ)
RULE = rule_of(DEFAULTS, FRONT_END)


def fall(low_g=0.0, impact_g=3.0):
    y, x = np.full(1000, 512), np.zeros(1000)
    y[485:500] = round(low_g * 512)
    x[500:], y[500:] = 512, 0
    x[500] = round(impact_g * 512)
    return np.stack([x, y, 0 * x], axis=1).astype(np.int16)


SLEEPER = Waking(FREE_FALL, 179, 5, 1, (0, 0, 0), HZ, HZ, 1, NO_BUFFER, 32, 1, 100, True, 10, 15)


def scored(counts, waking, kind=True):
    corpus = corpus_of([[counts]])
    events = events_from([0], [kind], [9.0], [12.0], [even(len(counts), HZ)])
    always = always_on(Engine(corpus).evaluate(RULE))
    slept = woken(corpus, RULE, waking)
    both = [score(one.recording[one.alarms], one.impact[one.alarms], events) for one in (always, slept.tried)]
    return corpus, events, always, slept, both


def reason(counts, waking, kind=True):
    _, _, always, slept, (before, after) = scored(counts, waking, kind)
    return [(one.why, one.more) for one in changes(always, before, slept, after, HZ)]


def test_an_event_is_lost_for_a_reason():
    assert reason(fall(), SLEEPER) == []
    assert reason(fall(low_g=0.4), SLEEPER) == [("never woke", "")]
    assert reason(fall(), replace(SLEEPER, lost=15)) == [("woke too late", "380 ms after it began")]
    drifting = fall()
    drifting[495:500, 1] = 400
    short = replace(SLEEPER, stay=2, finishes=False, length=4)
    assert reason(drifting, short) == [("asleep again", "3080 ms before it was judged")]
    assert reason(drifting, replace(short, finishes=True)) == []


def test_having_been_awake_at_another_time_is_no_reason():
    earlier = fall(low_g=0.4)
    earlier[100:110] = (0, 0, 0)
    assert reason(earlier, SLEEPER) == [("never woke", "")]
    later_on = fall(low_g=0.4)
    later_on[900:910] = (0, 0, 0)
    assert reason(later_on, SLEEPER) == [("never woke", "")]


def test_what_a_batch_has_not_filled_is_read_when_it_falls_asleep():
    cut = replace(SLEEPER, finishes=False, stay=20, watermark=32)
    slept = scored(fall(), cut)[3]
    (span,) = slept.times[0]
    assert slept.tried.decided.tolist() == slept.tried.told.tolist() == [span.stop - 1]


def test_falling_asleep_over_an_attempt_has_it_judged_early():
    early = replace(SLEEPER, stay=20, finishes=False)
    *_, slept, _ = scored(fall(), early)
    assert slept.short == 1
    not_turned = fall()
    not_turned[501:] = (0, 512, 0)
    assert reason(not_turned, early, kind=False) == [("asleep again", "judged early, on what there was")]
    *_, slept, _ = scored(fall(), replace(SLEEPER, stay=20, finishes=True))
    assert slept.short == 0


def test_who_slept_has_no_before_unless_a_buffer_kept_it():
    not_turned = fall()
    not_turned[501:] = (0, 512, 0)
    assert reason(not_turned, SLEEPER, kind=False) == [("no before", "tilt could not speak")]
    deep = replace(SLEEPER, depth=RULE.guard + RULE.baseline + 5 + 1)
    for buffer in (RUNNING, FROZEN):
        assert reason(not_turned, replace(deep, buffer=buffer), kind=False) == [], buffer
    shallow = replace(deep, buffer=RUNNING, depth=deep.depth - 2)
    assert reason(not_turned, shallow, kind=False) == [("no before", "tilt could not speak")]
    other_rate = replace(deep, buffer=RUNNING, line_hz=25.0, length=2)
    assert reason(not_turned, other_rate, kind=False) == [("no before", "tilt could not speak")]
    _, _, always, slept, _ = scored(not_turned, SLEEPER)
    assert without_before(always, slept.tried) == (0, 1)


def test_the_watermark_adds_its_batch_to_the_latency():
    _, _, always, slept, (before, after) = scored(fall(), SLEEPER)
    assert later(always, before, slept, after, HZ).most_ms == 0
    batch = replace(SLEEPER, watermark=32)
    _, _, always, slept, (before, after) = scored(fall(), batch)
    (alarm,) = slept.tried.alarms
    live = slept.times[0][0].live
    expected = -(int(slept.tried.decided[alarm]) - live + 1) % 32
    assert later(always, before, slept, after, HZ).most_ms == expected * 20 > 0


def test_the_line_misses_what_only_the_magnitude_finds():
    corpus, events, *_ = scored(fall(low_g=0.4), SLEEPER)
    (miss,) = line_misses(corpus, RULE, SLEEPER, events)
    assert (miss.low_samples, miss.line_samples, miss.axis, miss.sample) == (15, 0, 205, 485)
    corpus, events, *_ = scored(fall(low_g=0.32), SLEEPER)
    assert line_misses(corpus, RULE, SLEEPER, events) == ()
    with_offset = replace(SLEEPER, offsets=(26, 26, 26))  # 50 mg: 0.32 g read 0.37 g
    assert len(line_misses(corpus, RULE, with_offset, events)) == 1
    assert line_misses(corpus, RULE, replace(SLEEPER, level=10_000), events) == ()


def test_a_timer_is_awake_for_its_share():
    corpus = corpus_of([[np.tile([0, 512, 0], (10_000, 1)).astype(np.int16)]])
    found = woken(corpus, RULE, replace(SLEEPER, line=TIMER, asleep=30, awake=10, lost=0))
    assert found.duty.share == 0.25
    assert found.duty.wakes_per_hour == 250 * 18
    assert duty([], 0, HZ, TIMER).share == 0.0


def test_a_device_that_is_never_woken_tells_nothing():
    found = woken(corpus_of([[np.tile([0, 512, 0], (100, 1)).astype(np.int16)], []]), RULE, SLEEPER)
    assert len(found.tried) == 0
    assert found.duty.share == 0.0
    assert woken(corpus_of([]), RULE, SLEEPER).duty.total_s == 0
    assert woken(corpus_of([[fall()]]), RULE, SLEEPER, lambda: True) is None
    assert (found.tried.ended == ALARM).sum() == 0
