"""What is wrong with a recording is measured: each fault put into a good one is found, and a good one has none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from data.recipe.recipe import Recipe
from data.recipe.sections import Axes, Units
from data.recordings.model import Recording, Stretch
from data.recordings.orientation import upright_rotation
from data.recordings.quality import quality_of
from data.recordings.reading import read_recording
from tests.data.made import csv_text


def calm(samples: int = 2000, noise: float = 0.003) -> np.ndarray:
    """At rest for a while, then walking: (n, 3) in g."""
    t = np.arange(samples) * 0.02
    g = np.random.default_rng(3).normal((0, 1, 0), noise, (samples, 3))
    g[500:] += np.column_stack([0.2 * np.sin(9 * t[500:]), 0.3 * np.sin(11 * t[500:]), 0.1 * np.sin(7 * t[500:])])
    return g


def recorded(samples: np.ndarray, fitted_hz: float = 50.0, **more) -> Recording:
    return Recording("a", samples, "g", 50, fitted_hz, True, (Stretch(0, 0.0, 1 / fitted_hz),), **more)


def kinds(quality) -> set[str]:
    return {finding.kind for finding in quality.findings}


def test_a_good_recording_has_nothing_to_tell_and_its_noise_is_measured():
    found = quality_of(recorded(calm(noise=0.003)))
    assert found.sound
    assert found.noise_mg == pytest.approx(3, rel=0.2)
    assert found.rest_g == pytest.approx(1, abs=0.01)
    assert (found.clipped, found.stuck, found.frozen_s, found.gaps) == (0, "", 0.0, 0)


def test_clipping_is_told_with_how_long_it_lasts():
    samples = calm()
    samples[1000:1006, 1] = 4.0
    samples[1200, 0] = -4.0
    found = quality_of(recorded(samples), Recipe(units=Units(range_g=4.0)))
    assert (found.clipped, kinds(found)) == (7, {"clipped"})
    assert (found.clipped_s, found.longest_clip_s) == pytest.approx((0.14, 0.12))
    assert found.findings[0].at_s == pytest.approx(20.0), "where it lasts longest"


def test_clipping_is_found_on_the_sensors_own_axes_when_they_were_turned():
    rotation, _ = upright_rotation(np.tile([0.5, 0.8, 0.3], (20, 1)))
    samples = calm()
    samples[1000:1003, 1] = 4.0
    turned = recorded(samples @ rotation.T)
    recipe = Recipe(units=Units(range_g=4.0), axes=Axes(rotation=tuple(rotation.ravel().tolist())))
    assert quality_of(turned, recipe).clipped == 3


def test_a_stuck_axis_is_named_and_a_still_wearer_is_not_stuck():
    samples = calm()
    samples[900:1400, 2] = 0.125
    found = quality_of(recorded(samples))
    assert (found.stuck, kinds(found)) == ("z", {"stuck"})
    assert found.stuck_s == pytest.approx(10, abs=0.1)
    still = np.round(np.tile([0.0, 1.0, 0.0], (2000, 1)), 1)
    assert quality_of(recorded(still)).sound


def test_a_sensor_that_falls_silent_in_the_middle_of_a_movement_is_a_dropout():
    samples = calm()
    samples[1000:1150] = samples[1000]
    found = quality_of(recorded(samples))
    assert "dropout" in kinds(found)
    assert found.frozen_s == pytest.approx(3, abs=0.1)


@pytest.mark.parametrize(("fitted", "kind"), [(48.0, {"rate"}), (50.2, set())])
def test_a_clock_far_off_its_nominal_rate_is_a_finding_and_any_is_a_figure(fitted, kind):
    found = quality_of(recorded(calm(), fitted))
    assert kinds(found) == kind
    assert found.rate_error == pytest.approx(fitted / 50 - 1)


def test_gaps_count_the_seconds_that_are_missing():
    gappy = replace(recorded(calm()), stretches=(Stretch(0, 0.0, 0.02), Stretch(1000, 22.5, 0.02)))
    found = quality_of(gappy)
    assert (found.gaps, kinds(found)) == (1, {"gaps"})
    assert found.missing_s == pytest.approx(2.5)


def test_a_loud_sensor_and_one_off_at_rest_are_told():
    loud = calm(noise=0.028)
    assert kinds(quality_of(recorded(loud))) == {"noise"}
    assert kinds(quality_of(recorded(calm() * 1.4))) == {"rest"}


def test_a_column_of_temperature_and_one_of_battery_are_watched_for_drift_and_may_be_broken():
    head, *rows = csv_text(samples=calm(1000)).strip().split("\n")
    warm = np.linspace(21, 33, len(rows))
    text = "\n".join([head + ",temperature,battery_v", *(f"{row},{t:.2f},{4.1 - t / 50:.3f}"
                                                          for row, t in zip(rows, warm, strict=True))])
    recording, recipe = read_recording(text.encode(), "a", Recipe())
    found = quality_of(recording, recipe)
    assert found.temperature_drift == pytest.approx(12 * 0.9, abs=0.1)
    assert found.battery_drift == pytest.approx(-0.24 * 0.9, abs=0.01)
    assert kinds(found) == {"temperature"}
    broken = text.replace(f"{warm[40]:.2f},", "hot,")
    recording, _ = read_recording(broken.encode(), "a", Recipe())
    assert [a.kind for a in recording.asides] == ["battery"]
    assert "not_watched" in {remark.kind for remark in recording.remarks}


def test_counts_are_measured_by_the_front_end_that_wrote_them():
    counts = np.round(calm(noise=0.02) * 512).astype(np.int16)
    recording = replace(recorded(calm()), samples=counts, unit="counts")
    found = quality_of(recording, Recipe(), 512.0)
    assert found.rest_g == pytest.approx(1, abs=0.01)
    assert found.noise_mg == pytest.approx(20, rel=0.2)
