"""What contradicts itself is refused or warned with its reason; what does not is left alone."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.device.energy.budget import budget
from detect.device.energy.bus import EVERY_SAMPLE, I2C_STANDARD
from detect.device.energy.contradictions import contradictions, fall_ms
from detect.device.energy.current import BETWEEN, WOKEN
from detect.device.part.digital import OWN
from detect.device.quantity_table import device_values
from detect.device.sleep.wake_settings import FREE_FALL, TIMER
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS

TIMED = {"current.sleeps": WOKEN, "wake.line": TIMER}


def found(given_values=None, front_end=None, settings=DEFAULTS):
    values, front_end = device_values(given_values), front_end or FrontEnd()
    return contradictions(values, front_end, settings, budget(values, front_end.rate_hz, 2))


def test_the_starting_values_contradict_nothing():
    assert found() == ()


CASES = {
    "asleep for longer than a fall lasts": (
        TIMED | {"wake.timer_asleep_ms": 500}, {}, {}, False,
        "Asleep for 500 ms: a fall from 0.5 m lasts 319 ms and would be over."),
    "waking that takes longer than being awake": (
        {"current.sleeps": WOKEN, "wake.line": FREE_FALL, "wake.waking_ms": 3000}, {}, {}, True,
        "Wake-up time 3000 ms is longer than it stays awake, 2000 ms"),
    "duty cycle over 1, sample by sample": (
        {"current.sleeps": BETWEEN, "current.awake_ms": 20, "current.waking_ms": 1}, {}, {}, True,
        "Awake and waking take 105 % of the time: a duty cycle over 1."),
    "duty cycle over 1, woken too often": (
        {"current.sleeps": WOKEN, "wake.line": FREE_FALL, "current.awake_pct": 90, "current.wakes_per_hour": 1000,
         "wake.waking_ms": 1000}, {}, {}, True, "Awake and waking take 117.8 % of the time: a duty cycle over 1."),
    "a filter above half the rate": (
        {"digital.low_pass": OWN, "digital.bandwidth_hz": 40}, {}, {}, False, "above half the rate, 25 Hz"),
    "a threshold above the range": (
        {}, {"range_g": 2.0}, {"impact_g": 3.0}, False,
        "an impact along one axis does not come to the threshold of 3 g"),
    "a threshold no sample reaches": (
        {}, {"range_g": 2.0}, {"impact_g": 3.5}, False, "above all that ±2 g can tell, 3.46 g"),
    "a bus too slow for the rate": (
        {"bus.kind": I2C_STANDARD}, {"rate_hz": 1600.0}, {}, True,
        "it bears 1190 samples a second at most, not 1600"),
    "a buffer shorter than the sleep": (
        {"wake.watermark_samples": 40, "digital.buffer": 32}, {}, {}, True,
        "40 samples pass between two reads, and it keeps 32"),
    "a processor too slow": (
        {"processor.clock_mhz": 0.005}, {}, {}, True, "The processor would run"),
    "an empty battery": (
        {"battery.charge_pct": 10}, {}, {}, True,
        "The battery is empty: charged to 10 %, and the device stops at 15 %."),
    "a battery that will be empty too soon": (
        {"battery.wanted_days": 365}, {}, {}, False, "The battery is empty after 35.5 days, 365 are wanted."),
    "more at once than the battery gives": (
        {"radio.on_ma": 20}, {}, {}, False, "together draw 22.6 mA, the battery gives 15 mA at once."),
    "radio slots over 1": (
        {"radio.sends": EVERY_SAMPLE, "radio.nodes": 65}, {}, {}, True, "The slots of 65 nodes take 101.6 % of"),
    "radio slots without room for a retry": (
        {"radio.sends": EVERY_SAMPLE, "radio.nodes": 33}, {}, {}, False, "The slots of 33 nodes take 51.56 % of"),
    # EN 300 220-1, from memory: the duty cycle is over any hour, so 0.001 % of it are 36 ms.
    "more in the air than the band allows": (
        {"radio.duty_pct": 0.001, "life.sends": 40}, {}, {}, True, "52.48 ms in the air, more than 0.001 % of an hour"),
    "an analogue part between samples": (
        {"part.kind": "analogue", "current.sleeps": BETWEEN}, {}, {}, True,
        "needs 63.9 ms to come within half a step of 12 bits, longer than the 20 ms between samples; its filter's τ is "
        "7.04 ms; it is read after 1 ms."),
    "a digital part whose filter settles": (
        {"modes.asleep_filter": "settles", "current.sleeps": BETWEEN}, {}, {}, True,
        "needs 57.9 ms to come within half a step of 12 bits"),
    "an analogue part woken by a timer before it is right": (
        {"part.kind": "analogue", **TIMED}, {}, {}, True, "needs 63.9 ms"),
    "an analogue part that is to be woken by a line": (
        {"part.kind": "analogue", "current.sleeps": WOKEN}, {}, {}, True,
        "an analogue part has outputs and no interrupts"),
    "one with a zero-g line that is off asleep": (
        {"part.kind": "analogue", "current.sleeps": WOKEN, "modes.zero_g_line": True}, {}, {}, False,
        "Asleep the part hears nothing: its line is off then."),
    "a battery that starts below what is needed": (
        {"radio.lowest_v": 2.9}, {}, {}, True, "are below the 2.9 V that the radio needs."),
    "a battery that ends before it is said to": (
        {"memory.lowest_v": 2.7}, {}, {}, False, "With 16.9 % of the charge left the voltage, less 0.144 V"),
    "a log that outlives its retention": (
        {"memory.records_per_day": 0.001}, {}, {}, False, "and can be read for 10."),
    "a packet longer than its slot": (
        {"radio.sends": EVERY_SAMPLE, "radio.slot_ms": 3}, {}, {}, True, "A packet is 3.616 ms in the air"),
    "a payload without room for a sample": (
        {"radio.sends": EVERY_SAMPLE, "radio.payload_bytes": 5}, {}, {}, True, "holds no sample of 6"),
}


@pytest.mark.parametrize("case", CASES)
def test_it_is_said_once_with_the_reason_and_a_remedy(case):
    values, front_end, settings, refused, sentence = CASES[case]
    chosen = DEFAULTS
    for key, value in settings.items():
        chosen = chosen.with_value(key, value)
    said = [one for one in found(values, FrontEnd(**front_end), chosen) if sentence in str(one)]
    assert [one.refused for one in said] == [refused], found(values, FrontEnd(**front_end), chosen)
    assert str(said[0]).endswith(".")


@pytest.mark.parametrize("values", [
    {"wake.timer_asleep_ms": 500}, {"current.sleeps": BETWEEN, "current.awake_ms": 19.5},
    {"radio.sends": EVERY_SAMPLE, "radio.nodes": 32}, {"wake.watermark_samples": 32}, {"radio.nodes": 1000}])
def test_on_the_right_side_of_each_limit_nothing_is_said(values):
    assert found({**values, "battery.wanted_days": 0}) == ()


@given(st.floats(1, 2000), st.floats(0.05, 3))
def test_who_sleeps_longer_than_a_fall_is_told_so_whatever_the_rule(asleep_ms, height):
    values = TIMED | {"wake.timer_asleep_ms": asleep_ms, "wake.fall_m": height, "battery.wanted_days": 0}
    said = [str(one) for one in found(values, settings=DEFAULTS.with_value("free_fall_on", False))]
    assert any("would be over" in one for one in said) == (asleep_ms >= fall_ms(height))
