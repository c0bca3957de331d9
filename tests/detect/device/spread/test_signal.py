"""A recording through one device: matrix, offset, noise, clock and counts, against scipy and the rule's reference."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.spatial.transform import Rotation

from detect.device.quantity_table import device_values
from detect.device.spread.signal import Motion, bow, noise_rms, seen_by, sensor, turned
from detect.device.spread.spread import PARAMETERS, Devices, draw
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.reference import attempts_of
from tests.detect.device.spread.course_made import FRONT_END, IMPACT, RULE, course, fall
from tests.detect.strategies import rules_with_signals

FRONT = FrontEnd(4.0, 12, 50.0)

AT = {name: i for i, (name, _) in enumerate(PARAMETERS)}


def device(seed: int = 0, **numbers: float) -> Devices:
    """One device with these numbers, all others nought."""
    row = np.zeros((1, len(PARAMETERS)))
    for name, value in numbers.items():
        row[0, AT[name]] = value
    return Devices(row, np.zeros((1, 2), dtype=np.int64), seed)


def counts(devices: Devices, *pieces: np.ndarray, front_end: FrontEnd = FRONT_END) -> np.ndarray:
    lengths = np.array([len(piece) for piece in pieces])
    motion = Motion(np.ascontiguousarray(np.concatenate(pieces).T), np.cumsum(lengths) - lengths)
    corpus, _ = seen_by(devices, 0, motion, np.arange(len(pieces)), len(pieces), front_end, "one pole")
    return corpus.counts


vectors = st.lists(st.floats(-180, 180), min_size=3, max_size=3).map(np.array)


@given(vectors)
def test_a_turn_is_a_proper_rotation_and_scipys(degrees):
    matrix = turned(degrees)
    assert np.allclose(matrix @ matrix.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(matrix) == pytest.approx(1)
    assert np.allclose(matrix, Rotation.from_rotvec(degrees, degrees=True).as_matrix(), atol=1e-9)


def test_a_turn_about_x_takes_y_to_z():
    assert np.allclose(turned(np.array([90.0, 0, 0])) @ [0, 1, 0], [0, 0, 1])


@given(st.lists(st.floats(-5, 5), min_size=len(PARAMETERS), max_size=len(PARAMETERS)))
def test_what_is_read_is_put_together_as_its_parts_say(numbers):
    v = dict(zip(AT, numbers, strict=True))
    matrix, offset = sensor(np.array(numbers))
    true = np.array([0.3, -0.8, 0.5])
    inside = Rotation.from_rotvec([v["rotation_x"], v["rotation_y"], v["rotation_z"]], degrees=True).apply(true)
    for i, one in enumerate("xyz"):
        read = inside[i] * (1 + v[f"sensitivity_{one}"] / 100 + v[f"gain_drift_{one}"] / 100 * v["temperature"])
        read += sum(inside[j] * v[f"cross_{one}{other}"] / 100 for j, other in enumerate("xyz") if j != i)
        read += (v[f"offset_{one}"] + v[f"stress_{one}"] + v[f"drift_{one}"] * v["temperature"]) / 1000
        assert (matrix @ true + offset)[i] == pytest.approx(read, abs=1e-12)


def test_offset_of_50_mg_on_each_axis_reads_866_mg_at_rest_in_free_fall():
    falling = np.zeros((10, 3))
    read = counts(device(offset_x=50, offset_y=50, offset_z=50), falling, front_end=FrontEnd(4.0, 16, 50.0))
    assert np.linalg.norm(read[0]) / 8192 == pytest.approx(0.0866, abs=1e-4)


@given(st.integers(0, 2**32 - 1), st.sampled_from([(4.0, 12), (2.0, 8), (16.0, 16), (3.0, 10)]))
def test_without_any_tolerance_the_counts_are_those_of_a_nominal_device(seed, sensor_of):
    """Bit for bit, on values between two counts too, and beyond the range."""
    front_end = FrontEnd(*sensor_of, 50.0)
    rng = np.random.default_rng(seed)
    g = np.concatenate([rng.normal(0, 3, (60, 3)), (rng.integers(-3000, 3000, (60, 3)) + 0.5) / front_end.k])
    assert np.array_equal(counts(device(), g, front_end=front_end), to_counts(g, front_end)[0])


def test_numbers_clip_where_the_part_does_whatever_its_sensitivity():
    read = counts(device(sensitivity_x=-4.0, offset_y=80.0), np.array([[9.0, 4.0, -9.0], [4.0, 3.9, 0]]))
    assert read.tolist() == [[2047, 2047, -2048], [math.floor(4 * 0.96 * 512 + 0.5),
                                                   math.floor((3.9 + 0.08) * 512 + 0.5), 0]]


@pytest.mark.parametrize("clock", [0.0, 7.0])
def test_counts_are_those_of_one_sample_after_the_other(clock):
    """Plain arithmetic, sample by sample; where it differs a value lies within rounding of half a count."""
    row = draw(device_values(), FRONT, 5, 1)
    row.values[0, AT["clock"]] = clock
    row.values[0, AT["noise"]] = 0.0
    g = fall(0.3, 3.0)
    found = counts(row, g)
    matrix, offset = sensor(row.values[0])
    motion = Motion(np.ascontiguousarray(g.T), np.array([0]))
    looks = motion.looked_at(clock / 100, row.values[0, AT["moment"]])
    for sample, read in zip(looks.part(0, looks.count).T, found, strict=True):
        exact = matrix @ sample + offset
        share = np.clip(exact / 4, -1, 1)
        bent = np.array([row.values[0, AT[f"nonlinearity_{axis}"]] for axis in "xyz"]) / 100 * 4
        exact = (exact + bent * 1.5 * math.sqrt(3) * (share - share ** 3)) * FRONT_END.k + 0.5
        for value, got in zip(exact.tolist(), read.tolist(), strict=True):
            assert got == min(max(math.floor(value), -2048), 2047) or abs(value - round(value)) < 1e-9


def test_a_bow_is_one_at_most_and_nought_in_the_middle_and_at_the_ends():
    """u − u³ has its maximum 2/(3√3) at 1/√3: by hand. 1 % of ±4 g is 40 mg there, 20.48 counts."""
    share = np.linspace(-1.5, 1.5, 3001)
    assert np.abs(bow(share)).max() == pytest.approx(1)
    assert bow(np.array([-2.0, -1.0, 0.0, 1.0, 2.0])) == pytest.approx(0)
    assert share[int(np.argmax(bow(share)))] == pytest.approx(1 / math.sqrt(3), abs=1e-3)
    read = counts(device(nonlinearity_x=1.0), np.array([[4 / math.sqrt(3), 0.0, 0.0]]))
    assert read[0, 0] == math.floor((4 / math.sqrt(3) + 0.04) * 512 + 0.5)


@pytest.mark.parametrize(("given", "at_zero"), [
    ({"converter_gain": 0.5}, 12), ({"reference": 0.5}, -12), ({"inl": 8.0}, 4)])
def test_a_converter_that_is_off_moves_the_code_at_0_g_too(given, at_zero):
    """By hand: of an analogue part with 0 g at code 2 480 of 4 096, 409.6 codes a g. 0.5 % of 2 480 are 12.4, of
    2 889.6 14.4; a reference 0.5 % too high makes 2 467.7 of 2 480 and 2 875.2 of 2 889.6, 12.3 and 14.4 less. An INL
    of 8 codes bows from end to end: 2 480 lies 0.211 of the way up, 2.598 · 8 · (0.211 − 0.211³) = 4.19."""
    front_end = FrontEnd(3.0, 12, 50.0, 409.6, -2480, 1615)
    g = np.array([[0.0, 1.0, 0.0]])
    read = counts(device(**given), g, front_end=front_end)[0, :2].tolist()
    zero, one = 2480.0, 2889.6
    factor = (1 + given.get("converter_gain", 0) / 100) / (1 + given.get("reference", 0) / 100)
    expected = []
    for code in (zero, one):
        share = code / 2048 - 1
        bent = code + given.get("inl", 0) * 1.5 * math.sqrt(3) * (share - share ** 3)
        expected.append(math.floor(bent * factor - zero + 0.5))
    assert read == expected
    assert read[0] == at_zero


def test_noise_bandwidth_of_one_pole_is_the_integral_of_its_power():
    rate_hz, density = 50.0, 200.0
    power, _ = quad(lambda f: 1 / (1 + (f / (rate_hz / 2)) ** 2), 0, np.inf)
    assert noise_rms(density, rate_hz / 2, "one pole") == pytest.approx(density * 1e-6 * math.sqrt(power), rel=1e-6)
    assert noise_rms(density, rate_hz / 2, "steep") == pytest.approx(density * 1e-6 * math.sqrt(rate_hz / 2))


@pytest.mark.parametrize("noise_filter", ["one pole", "steep"])
def test_noise_has_its_density_in_the_counts(noise_filter):
    front_end, n, density = FrontEnd(2.0, 16, 100.0), 40_000, 3000.0
    motion = Motion(np.zeros((3, n)), np.array([0]))
    corpus, _ = seen_by(device(noise=density), 0, motion, np.array([0]), 1, front_end, noise_filter)
    rms = noise_rms(density, 50.0, noise_filter) * front_end.k
    expected = math.sqrt(rms ** 2 + 1 / 12)  # and the rounding's own (common practice)
    assert corpus.counts.std() == pytest.approx(expected, rel=4 / math.sqrt(6 * n))
    assert np.abs(np.corrcoef(corpus.counts.T) - np.eye(3)).max() < 5 / math.sqrt(n)


def test_noise_of_a_part_without_a_low_pass_is_that_of_its_full_bandwidth():
    """3 mg/√Hz through one pole at 1 kHz: √(π/2 · 1 000) · 3 mg are 118.9 mg, 1 948 counts at ±2 g in 16 bits; half of
    100 Hz would let 435 pass. The clock has no part in it."""
    front_end, n = FrontEnd(2.0, 16, 100.0), 40_000
    motion = Motion(np.zeros((3, n)), np.array([0]))
    for clock in (0.0, 20.0):
        corpus, _ = seen_by(device(noise=3000.0, clock=clock), 0, motion, np.array([0]), 1, front_end, "one pole",
                            1000.0)
        assert corpus.counts.std() == pytest.approx(1948, rel=4 / math.sqrt(6 * n))


def test_a_faster_clock_widens_the_noise_by_the_root_of_its_rate():
    motion = Motion(np.zeros((3, 40_000)), np.array([0]))
    fast, slow = (seen_by(device(noise=3000, clock=clock), 0, motion, np.array([0]), 1, FrontEnd(2.0, 16, 100.0),
                          "steep")[0].counts.std() for clock in (20.0, 0.0))
    assert fast / slow == pytest.approx(math.sqrt(1.2), rel=0.02)


def attempts(devices: Devices, g: np.ndarray) -> list[str]:
    return [one.ended for one in attempts_of(RULE, [counts(devices, g).tolist()])]


@pytest.mark.parametrize("clock", [10.0, 5.0, 0.0, -5.0, -10.0])
def test_how_long_a_free_fall_must_be_goes_with_the_clock(clock):
    """The rule counts samples: a part 10 % fast reaches them in 1/1.1 of the time, one 10 % slow needs 1/0.9 of it.

    Free fall for so many nominal samples at 0 g between edges that no spline can smear below the threshold.
    """
    need = RULE.free_fall_run / (1 + clock / 100)

    def caught(low: int) -> bool:
        g = np.zeros((700, 3))
        g[:, 1] = 1.0
        g[IMPACT - low:IMPACT, 1] = 0.0
        g[IMPACT] = (3.5, 0.0, 0.0)
        g[IMPACT + 1:] = (1.0, 0.0, 0.0)
        return bool(attempts(device(clock=clock), g))

    shortest = next(low for low in range(1, 60) if caught(low))
    # Edges are within one sample of the device, and within one of the recording.
    assert need - 1 - 1 / (1 + clock / 100) < shortest < need + 1 + 1 / (1 + clock / 100)
    if clock == 0:
        assert shortest == RULE.free_fall_run


def test_a_long_free_fall_is_measured_by_the_devices_own_clock():
    """Where the run is long edges weigh little: the times are as the rates, within one sample in 100."""
    rule = replace(RULE, free_fall_run=100)

    def shortest(clock: float) -> int:
        for low in range(70, 140):
            g = np.zeros((900, 3))
            g[:, 1] = 1.0
            g[400:400 + low, 1] = 0.0
            if attempts_of(rule, [counts(device(clock=clock), g).tolist()]):
                return low
        raise AssertionError("never")

    nominal = shortest(0.0)
    assert nominal == 100
    assert shortest(10.0) / nominal == pytest.approx(1 / 1.1, abs=0.011)
    assert shortest(-10.0) / nominal == pytest.approx(1 / 0.9, abs=0.011)


@settings(max_examples=60)
@given(rules_with_signals(recordings=3), st.integers(0, 2**20), st.booleans())
def test_alarms_are_the_references_at_the_nearest_nominal_sample(drawn, seed, on_time):
    """Over the device's own counts, stretch by stretch, told back by hand."""
    rule, recordings = drawn
    pieces = [(number, stretch) for number, one in enumerate(recordings) for stretch in one if len(stretch)]
    if not pieces:
        return
    lengths = np.array([len(stretch) for _, stretch in pieces])
    motion = Motion(np.ascontiguousarray(np.concatenate([stretch for _, stretch in pieces]).T.astype(float)),
                    np.cumsum(lengths) - lengths)
    devices = draw(device_values().with_value("spread.noise_ug", 0), FRONT, seed, 1)
    if on_time:
        devices.values[0, AT["clock"]] = devices.values[0, AT["moment"]] = 0.0
    made = replace(course(rule), motion=motion, recording_of=np.array([number for number, _ in pieces]),
                   recordings=len(recordings), front_end=FrontEnd(1.0, 16, 50.0, counts_per_g=1.0))
    corpus, looks = seen_by(devices, 0, motion, made.recording_of, made.recordings, made.front_end, "one pole")
    step, later = 1 / (1 + devices.values[0, AT["clock"]] / 100), devices.values[0, AT["moment"]]
    wanted = []
    starts = [*looks.first.tolist(), looks.count]
    for number in range(len(recordings)):
        mine = [i for i, (owner, _) in enumerate(pieces) if owner == number]
        if not mine:
            continue
        rows = [corpus.counts[starts[i]:starts[i + 1]].tolist() for i in mine]
        for attempt in attempts_of(rule, rows):
            if attempt.ended != "alarm":
                continue
            look, nominal = attempt.impact, 0
            for i, seen in zip(mine, rows, strict=True):
                if look < len(seen):
                    wanted.append((number, nominal + min(math.floor(look * step + later + 0.5), lengths[i] - 1)))
                    break
                look, nominal = look - len(seen), nominal + int(lengths[i])
    found = made.alarms(devices, 0)
    assert list(zip(*(of.tolist() for of in found), strict=True)) == wanted
