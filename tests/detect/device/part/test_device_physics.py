"""Bodies that fall, topple, swing and hit, made by another program, through a device's lines, mounting and rule.

The simulator is MuJoCo, its accelerometer on a site of the body; what comes back out of counts must be mechanics' own
figure within 1 %.
"""

import math
from functools import cache

import numpy as np
import pytest

from detect.device.energy.contradictions import fall_ms
from detect.device.part.mounting import off_centre_g, rotation
from detect.device.quantity_table import device_values
from detect.device.sleep.scores import woken
from detect.device.sleep.wake_settings import reading_in_free_fall, runs, waking_of
from detect.engine.engine import Engine
from detect.rule.explanation import margins
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import rule_of
from detect.rule.reference import attempts_of
from detect.rule.settings import DEFAULTS, from_plain
from detect.scoring.corpus import corpus_of

G0 = 9.80665
"""Standard gravity in m/s² (ISO 80000-3; 3rd CGPM, 1901)."""
HZ = 2000.0
LENGTH = 1.7
FINE = FrontEnd(16.0, 16, HZ)

mujoco = pytest.importorskip("mujoco", reason="the simulator is a reference for tests only")


def values(**given):
    return device_values({f"wake.{key}": value for key, value in given.items()})


def rule(front_end=FINE, **given):
    return rule_of(from_plain({**DEFAULTS.plain(), **given})[0], front_end)


@cache
def dropped(height_m):
    """Let go after 0.5 s on a support: readings in g (n, 3), the sample of the ground, the speed there in m/s."""
    model = mujoco.MjModel.from_xml_string(f"""
        <mujoco>
          <option gravity="0 0 -{G0}" timestep="{1 / HZ}" integrator="RK4"/>
          <worldbody>
            <body pos="0 0 {height_m}"><freejoint/>
              <geom type="sphere" size="0.01" mass="1" contype="0" conaffinity="0"/><site name="s"/></body>
          </worldbody>
          <sensor><accelerometer site="s"/></sensor>
        </mujoco>""")
    data = mujoco.MjData(model)
    readings = [np.array([0.0, 0.0, 1.0])] * int(HZ / 2)
    while data.qpos[2] > 0:
        mujoco.mj_step(model, data)
        readings.append(data.sensordata[:3] / G0)
    ground, speed = len(readings), -float(data.qvel[2])
    readings += [np.array([0.0, 0.0, 3.0])] * 20 + [np.array([0.0, 1.0, 0.0])] * int(4 * HZ)
    return np.array(readings), ground, speed


@cache
def toppled(place):
    """A rigid rod pinned at its foot, from nearly upright until flat: readings in g at a share of its length, (n, 3)
    along x (across it), y, z (along it); its angle; its turn rates in rad/s, (n, 3)."""
    model = mujoco.MjModel.from_xml_string(f"""
        <mujoco>
          <option gravity="0 0 -{G0}" timestep="{1 / HZ}" integrator="RK4"/>
          <worldbody><body>
            <joint type="hinge" axis="0 1 0"/>
            <geom type="cylinder" size="0.001" fromto="0 0 0 0 0 {LENGTH}" mass="70" contype="0" conaffinity="0"/>
            <site name="s" pos="0 0 {LENGTH * place}"/>
          </body></worldbody>
          <sensor><accelerometer site="s"/><gyro site="s"/></sensor>
        </mujoco>""")
    data = mujoco.MjData(model)
    data.qpos[0] = 0.01
    readings, angles, rates = [], [], []
    while data.qpos[0] < math.pi / 2:
        mujoco.mj_step(model, data)
        readings.append(data.sensordata[:3] / G0)
        rates.append(data.sensordata[3:6].copy())
        angles.append(float(data.qpos[0]))
    return np.array(readings), np.degrees(angles), np.array(rates)


@pytest.mark.parametrize(("height_m", "ms", "speed"), [(0.5, 319.3, 3.132), (1.0, 451.6, 4.429)])
def test_a_dropped_body_falls_for_as_long_and_as_fast_as_galileo_says(height_m, ms, speed):
    # t = √(2h/g), v = √(2gh), by hand.
    g, _, fast = dropped(height_m)
    counts, _ = to_counts(g, FINE)
    assert runs(np.sum(counts.astype(np.int64) ** 2, axis=1) < FINE.counts(0.1) ** 2).max() * 1000 / HZ \
        == pytest.approx(ms, rel=0.01)
    assert fast == pytest.approx(speed, rel=0.01)
    assert fall_ms(height_m) == pytest.approx(ms, abs=0.05)
    asked = rule()
    for found in (attempts_of(asked, [counts.tolist()])[0], Engine(corpus_of([[counts]])).evaluate(asked).attempt(0)):
        assert found.ended == "alarm"
        (row,) = [one for one in margins(found, asked, FINE) if one.name == "row"]
        assert row.measured == pytest.approx(ms, rel=0.01)


@pytest.mark.parametrize(("height_m", "wanted_ms", "wakes"), [
    (0.5, 310.0, True), (0.5, 330.0, False), (1.0, 440.0, True), (1.0, 460.0, False)])
def test_a_line_that_wants_more_than_the_fall_lasts_never_wakes(height_m, wanted_ms, wakes):
    counts, _ = to_counts(dropped(height_m)[0], FINE)
    waking = waking_of(values(free_fall_ms=wanted_ms, line_rate_hz=HZ), FINE)
    assert bool(waking.high(counts).any()) == wakes
    assert len(woken(corpus_of([[counts]]), rule(), waking).times[0]) == wakes


@pytest.mark.parametrize(("line_ms", "waking_ms", "caught"), [(100, 1, True), (100, 150, True), (100, 170, False)])
def test_what_is_left_of_a_fall_after_waking_is_what_the_rule_has(line_ms, waking_ms, caught):
    # 319.3 ms less 100 for the line leaves 219 ms; the rule wants 60 of them: 159 ms to wake are too many, by hand.
    counts, _ = to_counts(dropped(0.5)[0], FINE)
    waking = waking_of(values(free_fall_ms=float(line_ms), waking_ms=float(waking_ms), line_rate_hz=HZ), FINE)
    slept = woken(corpus_of([[counts]]), rule(), waking)
    assert bool(len(slept.tried.alarms)) == caught


def test_an_offset_of_50_mg_on_each_axis_is_what_a_falling_sensor_reads():
    # √3·50 mg = 86.6 mg, by hand; here in counts, of a simulated fall.
    g, ground, _ = dropped(0.5)
    counts, _ = to_counts(g[:ground] + 0.05, FINE)
    falling = np.linalg.norm(counts[-200:].astype(float), axis=1) / FINE.k
    assert falling == pytest.approx(0.0866, rel=0.01)
    assert reading_in_free_fall((0.05, 0.05, 0.05)) == pytest.approx(0.0866, rel=1e-3)


def test_a_toppling_rod_reads_nothing_across_and_nothing_at_48_degrees_and_2_g_flat():
    # Classical mechanics; compare Varieschi and Kamiya, American Journal of Physics 71:1025 (2003).
    g, angle, _ = toppled(2 / 3)
    counts, _ = to_counts(g, FINE)
    assert np.abs(counts[:, 0]).max() / FINE.k < 0.01, "0 g along the rod's normal throughout"
    size = np.linalg.norm(counts.astype(float), axis=1) / FINE.k
    assert angle[int(np.argmin(size))] == pytest.approx(48.19, rel=0.01)
    assert size.min() < 0.01
    assert size[-1] == pytest.approx(2.0, rel=0.01)


def test_a_sensor_moved_along_the_rod_reads_what_the_simulator_reads_there():
    # From the foot's reading and the gyroscope to 2/3 and to the top: centripetal and tangential parts added.
    foot, _, rates = toppled(0.0)
    for place in (2 / 3, 1.0):
        there, _, _ = toppled(place)
        moved = foot + off_centre_g(rates, (0.0, 0.0, LENGTH * place), HZ)
        assert np.abs(moved - there)[2:-2].max() < 0.02, "1 % of the 2 g it comes to"


def test_the_top_of_a_rod_hits_the_ground_as_fast_as_energy_says():
    # ω² = 3g/L when flat, so v = √(3gL): 7.07 m/s for 1.7 m; the centripetal part there is 3 g, by hand.
    g, _, rates = toppled(1.0)
    assert np.abs(rates[-1]).max() * LENGTH == pytest.approx(math.sqrt(3 * G0 * LENGTH), rel=0.01)
    assert -g[-1, 2] == pytest.approx(3.0, rel=0.01)


@pytest.mark.parametrize("turn", [(0, 0, 0), (30, 0, 0), (10, -20, 75)])
def test_a_case_that_sits_turned_tells_the_magnitude_but_its_line_only_sees_axes(turn):
    # The magnitude of a rod is 0.5 g at arccos(2.5/3) = 33.6° and arccos(1.5/3) = 60°, however it sits: by hand.
    g, angle, _ = toppled(2 / 3)
    counts, _ = to_counts(g @ rotation(*turn).T, FINE)
    low = np.flatnonzero(np.linalg.norm(counts.astype(float), axis=1) < FINE.counts(0.5))
    assert angle[low[0]] == pytest.approx(math.degrees(math.acos(2.5 / 3)), rel=0.01)
    assert angle[low[-1]] == pytest.approx(60.0, rel=0.01)
    line = waking_of(values(free_fall_g=0.5, free_fall_ms=1.0, line_rate_hz=HZ, offset_mg=0.0), FINE).high(counts)
    high = np.flatnonzero(line)
    share = np.abs(rotation(*turn) @ [0, 0, 1]).max()
    assert angle[high[0]] == pytest.approx(math.degrees(math.acos((2 + 0.5 / share) / 3)), rel=0.01)
    assert high[0] <= low[0] + 1, "no axis is larger than the magnitude, but for a count"
    assert high[-1] >= low[-1] - 1


@pytest.mark.parametrize(("peak_g", "ms", "speed"), [(50, 11, 3.43), (30, 18, 3.37)])
def test_a_standard_shock_on_a_body_changes_its_speed_as_the_standard_says(peak_g, ms, speed):
    # IEC 60068-2-27, test Ea, half-sine: Δv = 2·A·D/π. A simulated body is pushed by the pulse; its accelerometer
    # goes through a ±64 g part at 20 kHz, whose counts are summed.
    hz = 20_000.0
    front_end = FrontEnd(64.0, 16, hz)
    model = mujoco.MjModel.from_xml_string(f"""
        <mujoco>
          <option gravity="0 0 0" timestep="{1 / hz}" integrator="Euler"/>
          <worldbody><body><joint type="slide" axis="1 0 0"/>
            <geom type="sphere" size="0.01" mass="1"/><site name="s"/></body></worldbody>
          <actuator><motor joint="j" name="m"/></actuator>
          <sensor><accelerometer site="s"/></sensor>
        </mujoco>""".replace('<joint type="slide"', '<joint name="j" type="slide"'))
    data = mujoco.MjData(model)
    readings = []
    for step in range(int(0.03 * hz)):
        t = step / hz - 0.005
        data.ctrl[0] = peak_g * G0 * math.sin(math.pi * t / (ms / 1000)) if 0 <= t <= ms / 1000 else 0.0
        mujoco.mj_step(model, data)
        readings.append(data.sensordata[:3] / G0)
    counts, clamped = to_counts(np.array(readings), front_end)
    assert clamped == 0
    assert float(data.qvel[0]) == pytest.approx(speed, rel=0.01)
    assert counts[:, 0].sum() / front_end.k * G0 / hz == pytest.approx(speed, rel=0.01)
    assert counts.max() / front_end.k == pytest.approx(peak_g, rel=0.01)
