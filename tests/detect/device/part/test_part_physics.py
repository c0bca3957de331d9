"""Simulated bodies through an analogue part's codes, a filter and another rate: mechanics' figures within 1 %.

The simulator is MuJoCo, its accelerometer on a site of the body.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from detect.device.part.analogue import analog_part
from detect.device.part.filters import read_through
from detect.device.part.what_if import through
from detect.device.quantity_table import device_values
from detect.engine.engine import Engine
from detect.rule.front_end import FrontEnd, to_counts
from detect.rule.integers import rule_of
from detect.rule.settings import DEFAULTS
from detect.scoring.corpus import corpus_of

pytest.importorskip("mujoco", reason="the simulator is a reference for tests only")

from tests.detect.device.part.test_device_physics import HZ, dropped, toppled

PART = analog_part(device_values({"analog.filter_nf": 10.0, "analog.converter_bits": 14}))
"""3 V, 300 mV/g, its corner at 497 Hz."""


def read(g: np.ndarray) -> np.ndarray:
    """Through filter, converter and back to g, as the firmware reckons."""
    return (PART.code(read_through(g, HZ, HZ, PART.cutoff_hz)) - PART.zero_code) / PART.codes_per_g


def test_a_toppling_rod_reads_nothing_across_nothing_at_48_degrees_and_2_g_flat() -> None:
    """Classical mechanics; compare Varieschi and Kamiya, American Journal of Physics 71:1025 (2003)."""
    g, angle, _ = toppled(2 / 3)
    found = read(g)
    assert np.abs(found[:, 0]).max() < 0.01
    size = np.linalg.norm(found, axis=1)
    assert angle[int(np.argmin(size))] == pytest.approx(48.19, rel=0.01)
    assert size[-1] == pytest.approx(2.0, rel=0.01)


@pytest.mark.parametrize(("height_m", "ms"), [(0.5, 319.3), (1.0, 451.6)])
def test_a_dropped_body_falls_as_long_at_another_rate_and_the_rule_catches_it(height_m: float, ms: float) -> None:
    """t = √(2h/g), by hand. Read at 200 Hz, a sample is 5 ms, and the filter's lag of 3 ms is the same at both ends."""
    g, ground, _ = dropped(height_m)
    front_end = PART.front_end(200.0)
    counts, _ = to_counts(through(g, HZ, front_end.rate_hz, 50.0), front_end)
    low = np.linalg.norm(counts.astype(float), axis=1) < front_end.counts(0.6)
    assert low.sum() * 5 == pytest.approx(ms, rel=0.01, abs=6)
    settings = DEFAULTS.with_value("impact_g", 1.5)
    rule = rule_of(settings, front_end)
    assert rule.free_fall == math.floor(0.6 * front_end.k + 0.5)
    found = Engine(corpus_of([[counts]])).evaluate(rule)
    assert len(found.alarm_impact) == 1
    assert found.alarm_impact[0] * 5 >= ground * 1000 / HZ - 5


def test_a_body_at_rest_and_one_that_falls_stand_a_g_apart_in_codes() -> None:
    g, ground, _ = dropped(1.0)
    codes = PART.code(read_through(g[:ground], HZ, HZ, PART.cutoff_hz))
    assert codes[100, 2] - codes[-100, 2] == pytest.approx(PART.codes_per_g, rel=0.01)
    assert codes[-100].tolist() == [PART.zero_code] * 3
    assert FrontEnd(3.0, 14, 200.0, PART.codes_per_g, -8192, 8191) == PART.front_end(200.0)
