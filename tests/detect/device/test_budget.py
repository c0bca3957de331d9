"""Current, battery, bus and radio: by hand, by published framing, by scipy, and what must hold for any device."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from detect.device import battery
from detect.device.budget import CONSUMERS, budget, with_duty
from detect.device.bus import EVERY_SAMPLE, I2C_FAST, I2C_STANDARD, SPI, bus_load, radio_load, read_bits
from detect.device.current import BETWEEN, NEVER, WOKEN, sensor_ua, sleep
from detect.device.part import ANALOGUE
from detect.device.table import UNCHANGED, device_values
from detect.device.wake import FREE_FALL, TIMER

ONE_IN_TWENTY = {"current.running_ua": 500, "current.asleep_ua": 3, "current.waking_ua": 500}
BY_SAMPLE = {"current.sleeps": BETWEEN, "current.awake_ms": 1, "current.waking_ms": 0}
BY_TIMER = {"current.sleeps": WOKEN, "wake.line": TIMER, "wake.timer_awake_ms": 1, "wake.timer_asleep_ms": 19,
            "wake.waking_ms": 0}
BY_LINE = {"current.sleeps": WOKEN, "wake.line": FREE_FALL, "current.awake_pct": 5, "wake.waking_ms": 0}
IDEAL = {"battery.cut_off_pct": 0, "battery.self_discharge_pct": 0}


@pytest.mark.parametrize("sleeps", [
    BY_SAMPLE, BY_SAMPLE | {"current.awake_ms": 0.25, "current.waking_ms": 0.75}, BY_TIMER, BY_LINE])
def test_a_millisecond_awake_in_twenty(sleeps):
    """1 ms at 500 µA in 20 ms, 3 µA else: 27.85 µA. By hand; the orders of magnitude are practice, no source."""
    values = device_values({**ONE_IN_TWENTY, **sleeps})
    assert sum(sensor_ua(values, sleep(values, 50))) == pytest.approx(27.85, abs=1e-9)


def test_a_button_cell_at_25_microamperes():
    """220 mAh / 25 µA = 8 800 h = 366.7 days. By hand."""
    assert battery.days(device_values(IDEAL), 25) == pytest.approx(366.667, abs=1e-3)


@pytest.mark.parametrize(("kind", "reads_a_second"), [(I2C_STANDARD, 1190), (I2C_FAST, 4762)])
def test_a_burst_of_six_bytes(kind, reads_a_second):
    """UM10204 (I²C-bus specification and user manual), framing: 9 bit times a byte, start, repeated start, stop:
    84 bit times for six bytes from a register."""
    load = bus_load(device_values({"bus.kind": kind}), 50, 50)
    assert (load.bits, round(load.highest_hz)) == (84, reads_a_second)
    assert load.share == pytest.approx(50 / load.highest_hz)


def test_spi_needs_a_command_and_no_acknowledgement():
    """Eight bits a byte and a command byte: by hand."""
    load = bus_load(device_values({"bus.kind": SPI, "bus.spi_clock_khz": 1000}), 50, 50)
    assert (load.bits, load.read_us) == (56, pytest.approx(56))


def test_at_least_32_nodes_hold_at_the_starting_values():
    """16 samples a packet, 3.125 packets a second of 5 ms: 64 nodes. By hand; 32 and more: practice, no source."""
    load = radio_load(UNCHANGED, 50)
    assert (load.packet_samples, load.packets_per_s, load.nodes) == (16, 3.125, 64)
    assert load.nodes >= 32
    # IEEE Std 802.15.4 at 2.4 GHz: 250 kbit/s, so 113 bytes are 3.616 ms in the air.
    assert load.air_ms == pytest.approx(3.616)


def test_a_burst_makes_the_oldest_sample_wait():
    """32 samples at 50 Hz: the first is 31 periods older than the last; the read comes on top."""
    load = bus_load(device_values({"wake.watermark_samples": 32}), 50, 50)
    assert load.latency_ms == pytest.approx(31 * 20 + 1000 * read_bits(I2C_FAST, 192) / 400_000)


@pytest.mark.parametrize(("mean_ua", "a_year"), [(5, 1), (5, 30), (300, 3), (0.5, 99)])
def test_self_discharge_is_what_the_differential_equation_says(mean_ua, a_year):
    """Q' = −I − k·Q to the charge at cut-off, by scipy's solve_ivp."""
    values = device_values({"battery.self_discharge_pct": a_year})
    k = -math.log(1 - a_year / 100) / battery.HOURS_A_YEAR

    def empty(hours, charge):
        return charge[0] - 220 * 0.15

    empty.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(lambda hours, charge: -mean_ua / 1000 - k * charge, (0, 1e7), [220.0], events=empty,
                      rtol=1e-10, atol=1e-9)
    assert battery.days(values, mean_ua) == pytest.approx(found.t_events[0][0] / 24, rel=1e-6)


currents = st.floats(0, 10_000, allow_subnormal=False)
devices = st.fixed_dictionaries({
    "current.sleeps": st.sampled_from([NEVER, BETWEEN, WOKEN]), "current.running_ua": currents,
    "current.asleep_ua": currents, "current.waking_ua": currents, "processor.ua_per_mhz": st.floats(0, 500),
    "radio.sends": st.sampled_from(["alarms", EVERY_SAMPLE]),
    "bus.kind": st.sampled_from([I2C_STANDARD, I2C_FAST, SPI]),
    "wake.watermark_samples": st.integers(1, 64), "battery.charge_pct": st.floats(20, 100)})
rates = st.floats(5, 800)


@given(devices, rates, st.floats(0, 1000))
def test_shares_sum_to_one_and_the_dominant_one_is_the_largest(given_values, rate_hz, alarms):
    found = budget(device_values(given_values), rate_hz, alarms)
    assert sum(one.share for one in found.consumers) == pytest.approx(1)
    assert sum(one.ua for one in found.consumers) == pytest.approx(found.mean_ua)
    assert all(one.ua >= 0 for one in found.consumers)
    assert found.dominant.ua == max(one.ua for one in found.consumers)
    assert [one.name for one in found.consumers] == list(CONSUMERS)


@given(devices, rates)
def test_days_times_current_is_the_usable_charge_where_nothing_leaks(given_values, rate_hz):
    values = device_values({**given_values, "battery.self_discharge_pct": 0})
    found = budget(values, rate_hz, 2)
    assert found.days * 24 * found.mean_ua / 1000 == pytest.approx(battery.usable_mah(values))


@given(devices, rates, st.floats(0, 99), st.floats(0, 99))
def test_a_battery_that_leaks_more_never_lasts_longer(given_values, rate_hz, one, other):
    less, more = sorted((one, other))
    lasts = [budget(device_values({**given_values, "battery.self_discharge_pct": leak}), rate_hz, 2).days
             for leak in (less, more)]
    assert lasts[1] <= lasts[0] * (1 + 1e-9)


@given(rates, st.floats(0.01, 1), st.floats(0.01, 1), st.sampled_from([BETWEEN, WOKEN]))
def test_more_time_awake_never_draws_less(rate_hz, one, other, kind):
    values = device_values({"current.sleeps": kind, "current.waking_ms": 0})
    less, more = (budget(with_duty(values, rate_hz, duty), rate_hz, 2).mean_ua for duty in sorted((one, other)))
    assert less <= more * (1 + 1e-12)


@given(st.floats(0, 1000), st.floats(0, 1000))
def test_more_alarms_never_draw_less(one, other):
    fewer, more = (budget(UNCHANGED, 50, alarms).mean_ua for alarms in sorted((one, other)))
    assert fewer <= more


@given(rates, st.integers(1, 200), st.integers(1, 32))
def test_a_longer_burst_takes_no_more_of_the_bus(rate_hz, samples, sample_bytes):
    shares = [bus_load(device_values({"wake.watermark_samples": n, "bus.sample_bytes": sample_bytes}), rate_hz, rate_hz)
              .share for n in (samples, samples + 1)]
    assert shares[1] <= shares[0]


@given(rates, st.floats(0.1, 100))
def test_one_node_more_than_a_receiver_bears_needs_more_time_than_there_is(rate_hz, slot_ms):
    values = device_values({"radio.slot_ms": slot_ms})
    nodes = radio_load(values, rate_hz).nodes
    assert radio_load(values.with_value("radio.nodes", nodes + 1), rate_hz).slots > 1
    assert nodes == 0 or radio_load(values.with_value("radio.nodes", nodes), rate_hz).slots <= 1 + 1e-9


def test_an_alarm_and_a_day_of_signs_of_life_cost_what_the_radio_draws():
    """12 mA for 0.5 s are 6 mC, 1.667 µAh; for 24 times 50 ms 4 µAh. By hand."""
    found = budget(UNCHANGED, 50, 3)
    assert (found.alarm_uah, found.alive_uah) == (pytest.approx(5 / 3), pytest.approx(4))
    by_name = {one.name: one.ua for one in found.consumers}
    assert by_name["radio, alarms"] == pytest.approx(3 * 5 / 3 / 24)
    assert by_name["radio, signs of life"] == pytest.approx(4 / 24)


def test_an_analogue_part_is_converted_and_uses_no_bus():
    """50 times 30 µs a second at 300 µA, by hand; nothing waits in a buffer."""
    values = device_values({"part.kind": ANALOGUE, "wake.watermark_samples": 32})
    load = bus_load(values, 50, 50)
    assert (load.bits, load.share, load.latency_ms) == (0, pytest.approx(0.0015), pytest.approx(0.03))
    by_name = {one.name: one.ua for one in budget(values, 50, 0).consumers}
    assert by_name["bus or converter"] == pytest.approx(0.45)


def test_the_processor_runs_for_the_instructions_counted():
    """131 instructions of 1.5 cycles at 16 MHz: 12.28 µs a sample, by hand; 50 of them a second, nothing else."""
    values = device_values({"processor.waking_us": 0, "processor.waits_on": False})
    assert budget(values, 50, 0).processor_share == pytest.approx(50 * 131 * 1.5 / 16e6)


def test_the_whole_at_the_starting_values_by_hand():
    """Each term written out; the figures are the starting values of the table."""
    read_s = 84 / 400_000
    busy = 50 * (131 * 1.5 / 16e6 + 20e-6 + read_s)
    terms = [180, busy * 16 * 150, (1 - busy) * 1.5, 50 * read_s * 3 / 4.7e3 * 1e6, 2 * 0.5 / 86_400 * 12_000,
             24 * 0.05 / 86_400 * 12_000, 2]
    assert budget(UNCHANGED, 50, 2).mean_ua == pytest.approx(sum(terms))
    assert budget(UNCHANGED, 50, 2).dominant.name == "sensor running"
    assert np.isclose(budget(UNCHANGED, 50, 2).share("processor"), (terms[1] + terms[2]) / sum(terms))
