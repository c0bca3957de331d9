"""Current, battery, bus and radio: by hand, by published framing, by scipy, and what must hold for any device."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from detect.device.energy import battery
from detect.device.energy.budget import CONSUMERS, budget, with_duty
from detect.device.energy.bus import EVERY_SAMPLE, I2C_FAST, I2C_STANDARD, SPI, bus_load, radio_load, read_bits
from detect.device.energy.current import BETWEEN, NEVER, WOKEN, sensor_ua, sleep
from detect.device.part.part import ANALOGUE
from detect.device.quantity_table import UNCHANGED, device_values
from detect.device.sleep.wake_settings import FREE_FALL, TIMER

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
    """220 mAh / 25 µA = 8 800 h = 366.7 days. By hand. The charge is stated (IEC 60086-2, from memory) through 15 kΩ to
    2.0 V: 2.9 V are 193.3 µA, 1 138 h."""
    assert battery.days(device_values(IDEAL), 25, 0.0) == pytest.approx(366.667, abs=1e-3)
    assert battery.days(device_values(IDEAL), 2.9e6 / 15e3, 0.0) == pytest.approx(47.41, abs=0.01)
    assert device_values().number("battery.end_v") == 2.0


@pytest.mark.parametrize(("kind", "reads_a_second"), [(I2C_STANDARD, 1190), (I2C_FAST, 4762)])
def test_a_burst_of_six_bytes(kind, reads_a_second):
    """I²C-bus specification, framing: 9 bit times a byte, start, repeated start, stop:
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
    assert battery.days(values, mean_ua, 0.15) == pytest.approx(found.t_events[0][0] / 24, rel=1e-6)


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
    assert found.days * 24 * found.mean_ua / 1000 == pytest.approx(battery.usable_mah(values, found.cut_off.left))


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


def test_an_alarm_and_a_day_of_heartbeats_cost_what_the_radio_draws():
    """By hand. A send: 2 ms of start-up, 41 bytes at 250 kbit/s in 1.312 ms, 0.192 ms to turn around, 11 bytes of the
    link's answer in 0.352 ms (IEEE Std 802.15.4), at 12 mA 46.27 mA·ms; 24 a day 0.3085 µAh. An alarm is sent 1.1320
    times and listens 5 of every 100 ms for 1.660 s: 52.4 + 996.0 mA·ms, 0.2912 µAh."""
    found = budget(UNCHANGED, 50, 3)
    assert found.alarm_sends == pytest.approx(1.1320, abs=1e-4)
    assert (found.alarm_uah, found.alive_uah) == (pytest.approx(0.2912, abs=1e-4), pytest.approx(0.30848, abs=1e-5))
    by_name = {one.name: one.ua for one in found.consumers}
    assert by_name["radio, alarms"] == pytest.approx(3 * found.alarm_uah / 24)
    assert by_name["radio, heartbeats"] == pytest.approx(0.30848 / 24)


@pytest.mark.parametrize("harder", [
    {"life.heard_pct": 40}, {"life.outage_pct": 20}, {"life.answer_s": 12}, {"radio.window_ms": 50},
    {"radio.startup_ms": 500}])
def test_an_alarm_costs_more_where_it_is_harder_to_be_heard(harder):
    assert budget(device_values(harder), 50, 3).alarm_uah > 1.2 * budget(UNCHANGED, 50, 3).alarm_uah


def test_a_battery_ends_where_the_voltage_sags_below_what_the_neediest_consumer_works_at():
    """By hand: 12 + 2.4 + 0.18 mA through 10 Ω are 146 mV; the capacitor of 100 µF (τ = 1 ms) leaves 98.4 % of them
    after a packet with its answer, 4.16 ms. A log that programs from 2.7 V ends at 2.8435 V of an open voltage that
    falls from 3 V at 80 % to 2 V at 100 %: 16.9 % are left. One at −20 °C sags four times as much."""
    values = device_values({"memory.lowest_v": 2.7})
    ends = budget(values, 50, 0).cut_off
    assert (ends.whom, ends.needs_v, ends.typed) == ("event log", 2.7, False)
    assert ends.sag_v == pytest.approx(0.1458 * (1 - math.exp(-4.16)), abs=1e-4)
    assert ends.left == pytest.approx(0.2 * (1 - (3 - ends.sag_v - 2.7) / 1.0))
    assert ends.left == pytest.approx(0.1687, abs=1e-4)
    cold = values.with_value("battery.temperature_c", -20)
    assert budget(cold, 50, 0).cut_off.left == 1.0, "0.5 V of sag: it never starts"
    assert battery.capacity_mah(cold) == pytest.approx(220 * 0.8)
    assert budget(UNCHANGED, 50, 0).cut_off.typed
    large = values.with_value("battery.capacitor_uf", 4700)
    assert budget(large, 50, 0).cut_off.sag_v < ends.sag_v / 10


def test_a_battery_loses_twice_as_much_by_itself_ten_degrees_above():
    """By hand: 20 % a year at 20 °C are k = 0.2231 a year, at 30 °C 0.4463: without a draw a share of 0.15 is left
    after ln(1/0.15)/k years."""
    at = {one: battery.days(device_values({"battery.self_discharge_pct": 20, "battery.temperature_c": one}), 0.0, 0.15)
          for one in (20, 30)}
    assert at[20] == pytest.approx(math.log(1 / 0.15) / 0.22314 * 365.25, rel=1e-4)
    assert at[30] == pytest.approx(at[20] / 2)


def test_a_regulator_gives_current_for_voltage_or_does_not():
    """By hand: 1.8 V from 3 V at 85 % draw 0.7059 of the current; a linear one all of it. Both draw 1 µA themselves."""
    values = device_values({"bus.kind": SPI})
    plain, linear, switching = (budget(values.with_value("battery.regulator", kind), 50, 0).mean_ua
                                for kind in ("none", "linear", "switching"))
    assert linear == pytest.approx(plain + 1)
    assert switching == pytest.approx(plain * 1.8 / 3 / 0.85 + 1)


def test_an_analogue_part_that_would_have_to_hear_in_its_sleep_runs():
    """Its outputs are off asleep, its zero-g line too. 400 µA running and 3 µA asleep, awake for a tenth of the time,
    would be 42.7 µA; it draws 400. By hand."""
    values = device_values({"part.kind": ANALOGUE, "modes.zero_g_line": True, "current.sleeps": WOKEN,
                            "current.running_ua": 400, "current.wakes_per_hour": 0})
    assert sensor_ua(values, sleep(values, 50)) == (400, 0, 0)
    assert sleep(values, 50).samples_per_s == 5, "the processor sleeps all the same"
    by_timer = values.with_value("wake.line", TIMER)
    assert sum(sensor_ua(by_timer, sleep(by_timer, 50))) < 400
    digital = values.with_value("part.kind", "digital")
    assert sum(sensor_ua(digital, sleep(digital, 50))) == pytest.approx(42.7)
    deaf = digital.with_value("modes.asleep_lines", "threshold")
    assert sensor_ua(deaf, sleep(deaf, 50)) == (400, 0, 0)


def test_an_analogue_part_is_converted_and_uses_no_bus():
    """50 times 30 µs a second at 300 µA, by hand; nothing waits in a buffer."""
    values = device_values({"part.kind": ANALOGUE, "wake.watermark_samples": 32})
    load = bus_load(values, 50, 50)
    assert (load.bits, load.share, load.latency_ms) == (0, pytest.approx(0.0015), pytest.approx(0.03))
    by_name = {one.name: one.ua for one in budget(values, 50, 0).consumers}
    assert by_name["bus or converter"] == pytest.approx(0.45)


def test_the_processor_runs_for_the_instructions_counted():
    """129 instructions of 1.5 cycles at 16 MHz: 12.09 µs a sample, by hand; 50 of them a second, nothing else."""
    values = device_values({"processor.waking_us": 0, "processor.waits_on": False})
    assert budget(values, 50, 0).processor_share == pytest.approx(50 * 129 * 1.5 / 16e6)


def test_the_whole_at_the_starting_values_by_hand():
    """Each term written out; the figures are the starting values of the table."""
    read_s = 84 / 400_000
    busy = 50 * (129 * 1.5 / 16e6 + 20e-6 + read_s)
    terms = [180, busy * 16 * 150, (1 - busy) * 1.5, 50 * read_s * 3 / 4.7e3 * 1e6,
             2 * budget(UNCHANGED, 50, 2).alarm_uah / 24, 24 * 46.272 / 3600 / 24, 2]
    assert budget(UNCHANGED, 50, 2).mean_ua == pytest.approx(sum(terms))
    assert budget(UNCHANGED, 50, 2).dominant.name == "sensor running"
    assert np.isclose(budget(UNCHANGED, 50, 2).share("processor"), (terms[1] + terms[2]) / sum(terms))
