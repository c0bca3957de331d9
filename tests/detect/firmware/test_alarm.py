"""The life of an alarm: C, twin and the page's table know the same transitions, and nothing is lost on the way."""

import re
from itertools import pairwise
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from detect.firmware.export import LOG_MD, source
from detect.firmware.twins.alarm import ACTIONS, INPUTS, STAGES, Alarm, AlarmSettings
from detect.firmware.twins.device import AlarmStep
from tests.detect.firmware.toolchain import needs

SHORT = AlarmSettings(cancel_ms=1000, resend_ms=200, sends=3, slow_ms=700, rest_ms=400)


def twin_steps(chosen, steps):
    alarm, found = Alarm(chosen), []
    for now, what, number in steps:
        action = alarm.step(now, what, number)
        found.append(AlarmStep(action, alarm.stage, alarm.number, alarm.sends, alarm.withdrawn, alarm.suppressed))
    return found


def random_life(dice):
    chosen = AlarmSettings(dice.choice((0, 1, 5, 50)), dice.randint(1, 9), dice.randint(1, 4), dice.randint(1, 20),
                           dice.choice((0, 3, 30)))
    now, steps = dice.choice((0, 2**32 - 60)), []
    for _ in range(60):
        now = (now + dice.choice((0, 1, 1, 2, 5, 40))) % 2**32
        steps.append((now, dice.choice((*INPUTS, "time", "fall")), dice.randint(1, 3)))
    return chosen, steps


@needs("clang")
def test_c_and_twin_live_alike(device):
    for seed in range(300):
        chosen, steps = random_life(Random(seed))
        assert device.alarm(chosen, steps) == twin_steps(chosen, steps)


# The table


def table():
    """(from, to, input, action) of each row; an ACK is one with the alarm's own number."""
    text = re.search(r"## The life of an alarm.*?```text\n(.*?)```", source(LOG_MD).decode(), flags=re.S)[1]
    rows = re.findall(r"^(\w+) +-> (\w+) +(\w+) .* (DO_\w+)$", text, flags=re.M)
    assert len(rows) == len(text.strip().splitlines())
    return {tuple(word.removeprefix("DO_").lower() for word in row) for row in rows}


def transitions_of(steps, found):
    """What each step did, as rows of the table: an input that it took, else the time."""
    rows, stage = set(), "armed"
    for (_, what, _), step in zip(steps, found, strict=True):
        if step.action != "nothing":
            takes = {"warn": "fall", "cancel": "cancel", "report_delivered": "ack", "report_undelivered": "time"}
            by = takes.get(step.action)
            if step.action == "send":
                by = "fall" if stage == "armed" else "cancel" if what == "cancel" else "time"
            elif step.action == "arm":
                by = "rearm" if what == "rearm" else "time"
            rows.add((stage, step.stage, by, step.action))
        else:
            assert step.stage == stage, "a transition without an action"
        stage = step.stage
    return rows


@needs("clang")
def test_c_twin_and_table_know_the_same_transitions(device):
    in_c, in_twin = set(), set()
    for seed in range(400):
        chosen, steps = random_life(Random(1000 + seed))
        in_c |= transitions_of(steps, device.alarm(chosen, steps))
        in_twin |= transitions_of(steps, twin_steps(chosen, steps))
    assert in_c == in_twin == table()


def test_every_word_is_used():
    rows = table()
    assert {row[0] for row in rows} == {row[1] for row in rows} == set(STAGES)
    assert {row[3] for row in rows} == set(ACTIONS) - {"nothing"}


# What must hold of any life


@given(st.integers(0, 2**31))
@settings(max_examples=150)
def test_an_alarm_is_sent_until_it_is_acknowledged_unless_it_was_cancelled_before(seed):
    chosen, steps = random_life(Random(seed))
    alarm, sent, done = Alarm(chosen), False, True
    for now, what, number in steps:
        was = alarm.stage
        action = alarm.step(now, what, number)
        if was == "armed" and what == "fall":
            sent, done = action == "send", False
        elif action in ("send", "report_undelivered"):
            sent = True
            assert alarm.stage in ("sent", "undelivered")
        elif action == "cancel":
            assert not sent
            done = True
        elif action == "report_delivered":
            assert sent
            assert what == "acknowledge"
            assert number == alarm.number
            done = True
        elif action == "arm":
            assert done
        assert done == (alarm.stage in ("armed", "resting"))


def test_without_an_acknowledgement_it_is_sent_for_ever():
    alarm = Alarm(SHORT)
    alarm.step(0, "fall", 1)
    sends = [now for now in range(1, 20_000) if alarm.step(now) in ("send", "report_undelivered")]
    assert sends[:4] == [1000, 1200, 1400, 1600]
    assert {b - a for a, b in pairwise(sends[3:])} == {700}
    assert alarm.stage == "undelivered"
    assert alarm.step(20_000, "acknowledge", 1) == "report_delivered"


def test_a_second_fall_is_counted_and_no_new_alarm():
    alarm = Alarm(SHORT)
    assert [alarm.step(t, "fall", t) for t in (1, 2, 3)] == ["warn", "nothing", "nothing"]
    assert (alarm.number, alarm.suppressed) == (1, 2)
