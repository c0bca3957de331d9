"""Falling and hitting as textbooks have them, put through the front end and the rule.

Each signal is made by physics alone (equations of motion, kinematics, another program); what comes back out of
counts, attempts and margins must be the published figure.
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.signal import bilinear, lfilter

from detect.rule.explanation import margins, tilt_deg
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import rule_of
from detect.rule.reference import attempts_of
from detect.rule.settings import DEFAULTS, from_plain

G0 = 9.80665
"""Standard gravity in m/s² (ISO 80000-3; 3rd CGPM, 1901)."""


def run(g, front_end, **values):
    """Attempts and rule for samples in g, (n, 3), at the front end's rate."""
    rule = rule_of(from_plain({**DEFAULTS.plain(), **values})[0], front_end)
    counts, _ = to_counts(np.asarray(g, dtype=float), front_end)
    return attempts_of(rule, [counts.tolist()]), rule


def measured(attempt, rule, front_end, name):
    return next(m.measured for m in margins(attempt, rule, front_end) if m.name == name)


def along_y(magnitudes):
    g = np.zeros((len(magnitudes), 3))
    g[:, 1] = magnitudes
    return g


@pytest.mark.parametrize(("height_m", "ms", "speed"), [(0.5, 319.3, 3.132), (1.0, 451.6, 4.429)])
@pytest.mark.parametrize("rate_hz", [50.0, 400.0, 1600.0])
def test_a_body_that_drops_is_low_for_as_long_as_galileo_says(height_m, ms, speed, rate_hz):
    # t = √(2h/g), v = √(2gh) with g of ISO 80000-3. The path is integrated here, step by step, not solved.
    dt, z, v, t = 1e-5, height_m, 0.0, 0.0
    while z > 0:
        v += G0 * dt
        z -= v * dt
        t += dt
    assert t * 1000 == pytest.approx(ms, abs=0.1)
    assert v == pytest.approx(speed, abs=0.001)
    front_end = FrontEnd(16.0, 16, rate_hz)
    times = np.arange(0, 3, 1 / rate_hz)
    g = np.where((times >= 1.0) & (times < 1.0 + t), 0.0, 1.0)
    (attempt,), rule = run(along_y(g), front_end)
    assert measured(attempt, rule, front_end, "row") == pytest.approx(ms, abs=1001 / rate_hz)
    assert measured(attempt, rule, front_end, "low") == 0
    asked_too_long, _ = run(along_y(g), front_end, free_fall_ms=ms + 2000 / rate_hz)
    assert asked_too_long == []


@pytest.mark.parametrize(("peak_g", "ms", "speed"), [(50, 11, 3.43), (30, 18, 3.37)])
def test_standard_shock_pulses_change_speed_as_the_standard_says(peak_g, ms, speed):
    # IEC 60068-2-27, test Ea, half-sine pulses; Δv = 2·A·D/π.
    rate_hz = 100_000.0
    front_end = FrontEnd(64.0, 16, rate_hz)
    g = along_y(peak_g * half_sine(np.arange(0, 0.1, 1 / rate_hz), ms / 1000))
    counts, clamped = to_counts(g, front_end)
    assert clamped == 0
    assert counts[:, 1].sum() / front_end.k * G0 / rate_hz == pytest.approx(speed, abs=0.006)
    slower = FrontEnd(64.0, 16, 2000.0)
    (attempt,), rule = run(g[::50], slower, free_fall_on=False, impact_g=16.0)
    assert measured(attempt, rule, slower, "impact") == pytest.approx(peak_g, rel=0.001)


def half_sine(times, width_s):
    return np.where((times >= 0) & (times <= width_s), np.sin(np.pi * times / width_s), 0.0)


def peak_kept(pulse, front_end, size_g=8.0, **values):
    """What the rule measures of a pulse, as a share of its true height."""
    quiet = np.zeros(20)
    (attempt,), rule = run(along_y(size_g * np.concatenate([quiet, pulse, quiet])), front_end, free_fall_on=False,
                           impact_g=1.0, tilt_on=False, still_on=False, **values)
    return measured(attempt, rule, front_end, "impact") / size_g


@pytest.mark.parametrize(("cutoff_times_width", "kept"), [
    (0.25, 0.5553), (0.5, 0.7562), (1, 0.9014), (2, 0.9703), (5, 0.9950)])
def test_a_sensor_filter_takes_its_share_of_a_short_pulse(cutoff_times_width, kept):
    # Half-sine of 50 ms through a one-pole low-pass: analytic; filtered here by scipy.signal.
    rate_hz, width_s = 20_000.0, 0.05
    times = np.arange(0, 0.2, 1 / rate_hz)
    pole = 2 * math.pi * cutoff_times_width / width_s
    b, a = bilinear([pole], [1, pole], fs=rate_hz)
    filtered = lfilter(b, a, half_sine(times, width_s))
    assert peak_kept(filtered[::10], FrontEnd(16.0, 16, rate_hz / 10)) == pytest.approx(kept, abs=6e-4)


@pytest.mark.parametrize(("rate_hz", "kept"), [(25, 0.309), (50, 0.809), (100, 0.951), (200, 0.988)])
def test_the_same_pulse_loses_its_tip_between_samples(rate_hz, kept):
    # Worst phase keeps cos(π/(2·f·D)) for f·D ≥ 1: analytic. The phases are tried here, all of them.
    width_s, worst = 0.05, 1.0
    for phase in np.arange(0, 1, 1 / 64):
        times = np.arange(-3, 16) / rate_hz + phase / rate_hz
        worst = min(worst, peak_kept(half_sine(times, width_s), FrontEnd(16.0, 16, float(rate_hz))))
    assert worst == pytest.approx(kept, abs=1e-3)


@pytest.mark.parametrize("length", [2, 4, 8, 16])
def test_the_rules_own_filter_keeps_what_the_mean_over_its_window_keeps(length):
    # A half-sine averaged over T around its tip keeps sin(x)/x with x = πT/(2D): the integral, by hand.
    rate_hz, width_s = 400.0, 0.2
    x = math.pi * (length / rate_hz) / (2 * width_s)
    times = np.arange(0, 0.25, 1 / rate_hz)
    kept = peak_kept(half_sine(times, width_s), FrontEnd(16.0, 16, rate_hz), prefilter_samples=length)
    # Tip on a sample and an even length: the window is off the middle by half a sample.
    off = math.cos(math.pi * 0.5 / rate_hz / width_s)
    assert kept == pytest.approx(math.sin(x) / x * off, abs=3e-4)


def toppling_rod(length_m, rate_hz):
    """Angle and specific force in g along and across a rigid rod, 2/3 up, pinned at its foot, let go upright."""
    def motion(_, state):
        angle, speed = state
        return [speed, 1.5 * G0 / length_m * math.sin(angle)]

    def flat(_, state):
        return state[0] - math.pi / 2

    flat.terminal = True
    fell = solve_ivp(motion, (0, 20), [1e-4, 0.0], events=flat, rtol=1e-10, atol=1e-12, dense_output=True)
    times = np.arange(0, fell.t_events[0][0], 1 / rate_hz)
    angle, speed = fell.sol(times)
    place = 2 / 3 * length_m
    turning = 1.5 * G0 / length_m * np.sin(angle)
    along = np.cos(angle) - speed ** 2 * place / G0
    across = np.sin(angle) - turning * place / G0
    return angle, along, across


def test_a_toppling_rod_reads_nothing_across_and_two_g_along_when_flat():
    # Classical mechanics; compare Varieschi and Kamiya, American Journal of Physics 71:1025 (2003).
    front_end = FrontEnd(4.0, 16, 1000.0)
    angle, along, across = toppling_rod(1.7, 1000.0)
    counts, _ = to_counts(np.stack([across, along, np.zeros_like(along)], axis=1), front_end)
    assert np.abs(counts[:, 0]).max() <= 1, "0 g along the rod's normal throughout"
    assert np.degrees(angle[np.argmin(np.abs(counts[:, 1]))]) == pytest.approx(48.19, abs=0.2)
    (attempt,), rule = run(counts / front_end.k, front_end, impact_g=2.1, impact_within_ms=5000, free_fall_g=0.3)
    assert attempt.ended == "cut_off", "flat on the ground it has not hit anything yet"
    assert measured(attempt, rule, front_end, "low") < 0.01
    assert measured(attempt, rule, front_end, "impact") == pytest.approx(2.0, abs=0.02)
    # |3·cos θ − 2| < 0.3 between arccos(2.3/3) and arccos(1.7/3): from the energy, by hand.
    assert math.degrees(angle[attempt.first_low]) == pytest.approx(math.degrees(math.acos(2.3 / 3)), abs=0.2)
    assert math.degrees(angle[attempt.last_low]) == pytest.approx(math.degrees(math.acos(1.7 / 3)), abs=0.2)


def test_another_program_sees_the_same_free_and_toppling_bodies():
    # MuJoCo's accelerometer on a free body and on a hinged rod: the same figures within 1 %.
    mujoco = pytest.importorskip("mujoco", reason="the simulator is a reference for tests only")
    model = mujoco.MjModel.from_xml_string(f"""
        <mujoco>
          <option gravity="0 0 -{G0}" timestep="0.0005" integrator="RK4"/>
          <worldbody>
            <body pos="5 0 3"><freejoint/><geom type="sphere" size="0.1" mass="1"/><site name="free"/></body>
            <body pos="0 0 0">
              <joint type="hinge" axis="0 1 0"/>
              <geom type="cylinder" size="0.001" fromto="0 0 0 0 0 1.7" mass="70" contype="0" conaffinity="0"/>
              <site name="rod" pos="0 0 {1.7 * 2 / 3}"/>
            </body>
          </worldbody>
          <sensor><accelerometer site="free"/><accelerometer site="rod"/></sensor>
        </mujoco>""")
    data = mujoco.MjData(model)
    data.qpos[7] = 0.01
    free, rod, angles = [], [], []
    while data.qpos[7] < math.pi / 2:
        mujoco.mj_step(model, data)
        free.append(data.sensordata[:3] / G0)
        rod.append(data.sensordata[3:6] / G0)
        angles.append(data.qpos[7])
    front_end = FrontEnd(4.0, 16, 2000.0)
    (dropped,), rule = run(np.array(free), front_end)
    assert measured(dropped, rule, front_end, "low") < 0.01
    (toppled,), rule = run(np.array(rod), front_end, impact_g=2.1, impact_within_ms=5000, free_fall_g=0.3)
    assert measured(toppled, rule, front_end, "impact") == pytest.approx(2.0, rel=0.01)
    counts, _ = to_counts(np.array(rod), front_end)
    quietest = math.degrees(angles[int(np.argmin(np.sum(counts.astype(int) ** 2, axis=1)))])
    assert quietest == pytest.approx(48.19, rel=0.01)


def test_a_swung_arm_reads_its_centripetal_acceleration():
    # ω²r: 0.6 m at 10 rad/s is 6.118 g. The path is a circle, differentiated twice by differences.
    rate_hz, h = 100.0, 1e-4
    times = np.arange(0, 1, 1 / rate_hz)
    place = [0.6 * np.stack([np.cos(10 * t), np.sin(10 * t), 0 * t], axis=1) for t in (times - h, times, times + h)]
    g = (place[0] - 2 * place[1] + place[2]) / h ** 2 / G0
    front_end = FrontEnd(8.0, 16, rate_hz)
    (attempt, *_), rule = run(g, front_end, free_fall_on=False, impact_g=6.0, restart_on=False)
    assert measured(attempt, rule, front_end, "impact") == pytest.approx(6.118, abs=0.001)
    _, clamped = to_counts(g, FrontEnd(4.0, 12, rate_hz))
    assert clamped > 0.5 * len(g), "a ±4 g part is at its stop for most of the turn"


def test_the_largest_magnitude_a_range_can_tell_is_root_three_of_it():
    # √3·R: 3.464 g for ±2 g on each axis.
    front_end = FrontEnd(2.0, 12, 50.0)
    g = np.concatenate([np.zeros((10, 3)), np.full((5, 3), -9.0), np.tile([0.0, 1.0, 0.0], (200, 1))])
    (attempt,), rule = run(g, front_end, impact_g=3.464)
    assert measured(attempt, rule, front_end, "impact") == pytest.approx(3.464, abs=5e-4)
    never, _ = run(g, front_end, impact_g=3.467)
    assert [a.ended for a in never] == ["no_impact"]


def test_a_sensors_free_fall_line_is_the_rule_of_every_axis():
    # Practice: the line is high only while all three axes are near 0 g; a magnitude of 0.87 g may be "low" there.
    front_end = FrontEnd(4.0, 12, 50.0)
    g = np.concatenate([np.tile([0.0, 1.0, 0.0], (50, 1)), np.full((10, 3), 0.5), np.tile([0.0, 1.0, 0.0], (99, 1))])
    by_axis, _ = run(g, front_end, free_fall_rule="every_axis")
    by_magnitude, _ = run(g, front_end)
    assert [a.ended for a in by_axis] == ["no_impact"]
    assert by_magnitude == []


def test_an_offset_turns_the_rules_angle_by_its_tangent():
    # 50 mg on a level axis: as an angle between vectors atan 0.05 = 2.862°, where a one-axis tilt meter says
    # asin 0.05 = 2.866°.
    front_end = FrontEnd(2.0, 16, 50.0)
    up, offset = [0.0, 1.0, 0.0], [0.05, 1.0, 0.0]
    g = np.concatenate([np.tile(up, (150, 1)), np.zeros((5, 3)), [[0, 1.9, 0]], np.tile(offset, (200, 1))])
    (attempt,), _ = run(g, front_end, impact_g=1.8)
    assert tilt_deg(attempt) == pytest.approx(2.862, abs=0.001)
    assert abs(tilt_deg(attempt) - math.degrees(math.asin(0.05))) > 0.002


def test_an_offset_on_every_axis_is_what_free_fall_reads():
    # √3·50 mg = 86.6 mg.
    front_end = FrontEnd(2.0, 16, 50.0)
    g = np.concatenate([np.tile([0.0, 1.0, 0.0], (100, 1)), np.full((20, 3), 0.05), np.tile([0.0, 1.0, 0.0], (99, 1))])
    (attempt,), rule = run(g, front_end)
    assert measured(attempt, rule, front_end, "low") * 1000 == pytest.approx(86.6, abs=0.05)


def test_a_quiet_sensors_noise_is_what_stillness_measures():
    # 150 µg/√Hz through a one-pole of 50 Hz: √(π/2·50)·150 µg = 1.329 mg RMS (noise bandwidth π/2 of the cut-off).
    fast, step = 20_000.0, 50
    noise = np.random.default_rng(7).normal(0, 150e-6 * math.sqrt(fast / 2), 4200 * step)
    pole = 2 * math.pi * 50
    b, a = bilinear([pole], [1, pole], fs=fast)
    front_end = FrontEnd(2.0, 16, fast / step)
    axis = lfilter(b, a, noise)[::step]
    g = np.zeros((len(axis), 3))
    g[:, 0], g[:, 1] = 1.0, axis
    g[0] = [0, 1.95, 0]
    (attempt,), rule = run(g, front_end, free_fall_on=False, impact_g=1.9, settle_ms=10, observe_ms=10_000,
                           still_g=0.1)
    assert measured(attempt, rule, front_end, "still") * 1000 == pytest.approx(1.329, rel=0.03)
