"""Times in any unit: counters that wrap, sample numbers, calendars, other clocks."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.cli.read import with_options
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import Clock, Units
from data.recordings.reading import read_recording
from data.timing.stamps import from_dates, in_seconds, unwrapped
from tests.data.made import csv_text, wearer


def read(text: str, recipe: Recipe):
    recording, _ = read_recording(text.encode(), "a", recipe)
    return recording


def ticking(ticks: np.ndarray) -> str:
    rows = [f"{t:.10g},{x:.3f},{y:.3f},{z:.3f}" for t, (x, y, z) in zip(ticks, wearer(len(ticks)), strict=True)]
    return "time,x_g,y_g,z_g\n" + "\n".join(rows)


@given(st.integers(0, 65535), st.integers(1, 20_000), st.integers(2, 400))
def test_a_counter_that_starts_again_goes_on(start, step, samples):
    true = start + step * np.arange(samples, dtype=float)
    found, _ = unwrapped(true % 65536, 65536)
    assert np.array_equal(found - found[0], true - true[0])


def test_ticks_become_seconds_and_the_turns_of_the_counter_are_told():
    told = Recipe(units=Units("", "ticks"), clock=Clock(ticks_hz=32768, wrap=65536, rates_hz=(50,)))
    recording = read(ticking(np.round(np.arange(500) * 655.36) % 65536), told)
    assert recording.rate_hz == 50
    assert recording.fitted_rate_hz == pytest.approx(50, rel=1e-3)
    assert any(r.kind == "wrap" and "4 times" in r.sentence for r in recording.remarks)
    assert recording.gaps == 0


def test_a_counter_that_wraps_unannounced_is_refused_with_the_number_it_wraps_at():
    told = with_options(Recipe(), time_unit="ms", rates_hz=[50])
    with pytest.raises(Problem) as caught:
        read(ticking((65000 + 20 * np.arange(200)) % 65536), told)
    assert (caught.value.kind, caught.value.line) == ("time_wrap", 29)
    assert "wrap = 65536" in caught.value.remedy
    wrapped = Recipe(units=Units("", "ms"), clock=Clock(wrap=65536, rates_hz=(50,)))
    assert read(ticking((65000 + 20 * np.arange(200)) % 65536), wrapped).gaps == 0


def test_a_stamp_that_the_counter_cannot_show_is_refused_with_its_line():
    told = Recipe(units=Units("", "ms"), clock=Clock(wrap=256, rates_hz=(50,)))
    with pytest.raises(Problem, match="never shows 260") as caught:
        read(ticking(np.arange(40) * 20.0), told)
    assert caught.value.line == 15


def test_ticks_whose_rate_nobody_named_are_asked_about():
    with pytest.raises(Problem, match="ticks_hz"):
        read(ticking(np.arange(40) * 20.0), with_options(Recipe(), time_unit="ticks"))


def test_sample_numbers_are_times_and_a_number_that_is_missing_is_a_gap():
    numbers = np.delete(np.arange(200), np.arange(90, 100))
    recording = read(ticking(numbers % 256), Recipe(units=Units("", "samples"), clock=Clock(rates_hz=(25,), wrap=256)))
    assert recording.rate_hz == 25
    assert [s.first for s in recording.stretches] == [0, 90]
    assert recording.stretches[1].start_s == pytest.approx(4.0)
    with pytest.raises(Problem) as refused:
        read(ticking(numbers), with_options(Recipe(), time_unit="samples"))
    assert refused.value.field == "time.rates_hz"


def numbered(numbers, **clock):
    return read(ticking(numbers), Recipe(units=Units("", "samples"), clock=Clock(rates_hz=(50,), **clock)))


@given(st.sets(st.integers(1, 398), max_size=60))
def test_every_lost_number_is_a_gap_even_single_ones_side_by_side(lost):
    kept = np.array([number for number in range(400) if number not in lost])
    recording = numbered(kept)
    firsts = [0, *(i for i in range(1, len(kept)) if kept[i] > kept[i - 1] + 1)]
    assert [s.first for s in recording.stretches] == firsts
    assert [s.start_s for s in recording.stretches] == [pytest.approx(kept[i] / 50) for i in firsts]
    assert recording.fitted_rate_hz == recording.rate_hz == 50


def test_losses_of_one_sample_and_of_two_one_apart_are_gaps():
    recording = numbered(np.delete(np.arange(100), [20, 50, 52]))
    assert [s.first for s in recording.stretches] == [0, 20, 49, 50]
    assert [s.start_s for s in recording.stretches] == pytest.approx([0, 21 / 50, 51 / 50, 53 / 50])


def test_sample_numbers_stand_on_another_clock_by_offset_and_drift():
    recording = numbered(np.arange(1000, 1200), offset_s=2.5, drift_ppm=100)
    first, = recording.stretches
    assert first.start_s == pytest.approx(2.5 + 1000 * 1.0001 / 50, abs=1e-12)
    assert first.step_s == pytest.approx(1.0001 / 50, abs=1e-15)
    assert recording.rate_hz == 50


def test_a_sample_number_that_is_not_whole_or_comes_twice_is_refused_with_its_line():
    with pytest.raises(Problem, match=r"7\.5 is not a whole number") as caught:
        numbered(np.array([*range(7), 7.5, *range(8, 40)]))
    assert caught.value.line is not None
    with pytest.raises(Problem, match=r"time 0\.16 s is the same as that of the sample before"):
        numbered(np.array([*range(9), 8, *range(9, 40)]))


@pytest.mark.parametrize(("unit", "per_second"), [("s", 1), ("ms", 1e3), ("us", 1e6), ("ns", 1e9)])
def test_calendar_stamps_begin_at_their_first_and_keep_when_that_was(unit, per_second):
    began = 1_900_000_000
    times = in_seconds((began + np.arange(100) * 0.25) * per_second, unit)
    assert times.seconds == pytest.approx(np.arange(100) * 0.25, abs=1e-6)
    assert times.origin_s == pytest.approx(began)


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/St_Johns", "Asia/Kathmandu"])
def test_dates_with_a_zone_go_on_over_the_hour_that_comes_twice(zone):
    """Reference: the standard library's zoneinfo."""
    utc = datetime(2031, 10, 26, 0, 30, tzinfo=ZoneInfo("UTC"))
    moments = [utc + timedelta(minutes=3 * i) for i in range(40)]
    times = from_dates([m.astimezone(ZoneInfo(zone)).isoformat() for m in moments])
    assert times.seconds == pytest.approx([180.0 * i for i in range(40)])
    assert times.origin_s == utc.timestamp()


def test_a_clock_off_its_nominal_rate_is_told_with_what_it_comes_to_in_an_hour():
    told = with_options(Recipe(), rates_hz=[50])
    recording = read(csv_text(samples=wearer(2000), times=np.arange(2000) / 50.5), told)
    said = next(r.sentence for r in recording.remarks if r.kind == "rate_off")
    assert "1 % fast" in said
    assert "36 s in an hour" in said
    steady = read(csv_text(samples=wearer(2000), times=np.arange(2000) / 50), told)
    assert "rate_off" not in {r.kind for r in steady.remarks}


def test_rows_that_stand_there_twice_are_left_out_once_where_that_is_declared():
    lines = csv_text().split("\n")
    twice = "\n".join([*lines[:50], lines[49], *lines[50:80], lines[79], lines[79], *lines[80:]])
    with pytest.raises(Problem) as caught:
        read(twice, with_options(Recipe(), rates_hz=[50]))
    assert (caught.value.kind, caught.value.line) == ("time_duplicate", 51)
    assert 'repeats = "drop"' in caught.value.remedy
    recording = read(twice, Recipe(clock=Clock(rates_hz=(50,), repeats="drop")))
    assert np.array_equal(recording.samples, wearer(200))
    assert any(r.kind == "repeats" and "3 rows" in r.sentence for r in recording.remarks)


def test_the_same_stamp_with_other_values_is_never_dropped():
    lines = csv_text().split("\n")
    lines[50] = lines[49].split(",")[0] + ",0,0.9,0"
    with pytest.raises(Problem) as caught:
        read("\n".join(lines), Recipe(clock=Clock(rates_hz=(50,), repeats="drop")))
    assert caught.value.kind == "time_duplicate"
