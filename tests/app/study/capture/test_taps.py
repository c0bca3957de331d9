"""Nodes that were tapped together stand together afterwards; where taps are not clear nothing is proposed."""

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.study.capture.raw_file import ENDED, RECEIVED, Header, RawWriter
from app.study.capture.simulator import Schedule, SimulatedNode
from app.study.capture.study_intake import aligned, intake, proposed_shifts
from app.study.capture.taps import tap_shifts
from app.study.state import Study
from data.recordings.model import Recording, Stretch
from detect.firmware.twins.frame import Hello

TAPS_S = (5.0, 5.6, 6.3)


def worn(rate_hz, late_s, seed, seconds=30.0, taps=TAPS_S):
    """A node that stands, with taps of 20 ms, its clock late by so much."""
    dice = np.random.default_rng(seed)
    times = (dice.uniform(0, 1) + np.arange(seconds * rate_hz)) / rate_hz
    samples = np.zeros((len(times), 3))
    samples[:, 1] = 1 + dice.normal(0, 0.02, len(times))
    for tap in taps:
        samples[:, 0] += 3 * np.clip(1 - np.abs(times - tap) / 0.02, 0, None)
    return Recording(f"node {seed}", samples, "g", rate_hz, rate_hz, True,
                     (Stretch(0, float(times[0]) + late_s, 1 / rate_hz),))


@given(st.integers(1, 10_000), st.floats(-0.4, 0.4), st.sampled_from([100.0, 200.0, 400.0]))
@settings(max_examples=40, deadline=None)
def test_a_shift_is_found_within_a_sample_and_within_what_is_said(seed, late_s, rate_hz):
    shift, = tap_shifts([worn(rate_hz, 0.0, 0), worn(rate_hz, late_s, seed)])
    assert abs(shift.shift_s - late_s) <= 1 / rate_hz
    assert shift.recording == f"node {seed}"
    assert shift.unsure_s == 0.5 / rate_hz


def test_every_node_is_shifted_against_the_first():
    found = tap_shifts([worn(200.0, 0.1, 0), worn(200.0, 0.15, 1), worn(200.0, -0.05, 2)])
    assert [one.shift_s for one in found] == [pytest.approx(0.05, abs=0.005), pytest.approx(-0.15, abs=0.005)]


@pytest.mark.parametrize("taps", [(), tuple(np.arange(2.0, 28.0, 0.6))], ids=["none", "as steady as steps"])
def test_without_clear_taps_nothing_is_proposed(taps):
    assert tap_shifts([worn(200.0, 0.0, 0, taps=taps), worn(200.0, 0.1, 1, taps=taps)]) == []
    assert tap_shifts([worn(200.0, 0.0, 0)]) == []


def test_recordings_of_a_capture_stand_together_once_the_shift_is_accepted(tmp_path, monkeypatch):
    """The second node's messages take 130 ms longer, as over another radio."""
    counts = [np.round(256 * worn(200.0, 0.0, seed).samples).astype(np.int16) for seed in (3, 3)]
    nodes = [SimulatedNode(number, one, Hello(number, 200_000, 256_000, 12)) for number, one in enumerate(counts, 1)]
    writer = RawWriter(tmp_path / "a.plfcap", Header("test", "binary"))
    schedules = [Schedule([node]) for node in nodes]
    began_ns = time.monotonic_ns()
    ends = [(0.05 * tick + late, data) for schedule, late in zip(schedules, (0.0, 0.13), strict=True)
            for tick in range(1, 602) if (data := b"".join(schedule.take(0.05 * tick)))]
    for at_s, data in sorted(ends, key=lambda one: one[0]):
        monkeypatch.setattr(time, "monotonic_ns", lambda at_s=at_s: began_ns + int(1e9 * at_s))
        writer.append(RECEIVED, data)
    monkeypatch.undo()
    writer.append(ENDED, b"")
    writer.close()
    found = intake(Study(), tmp_path / "a.plfcap")
    first, second = (file.recording.stretches[0].start_s for file in found.batch.read)
    assert second - first == pytest.approx(0.13, abs=0.01)
    shifts = proposed_shifts(found)
    first, second = (file.recording.stretches[0].start_s for file in aligned(found, shifts).batch.read)
    assert abs(second - first) <= 1 / 200
