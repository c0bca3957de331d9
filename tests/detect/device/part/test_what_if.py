"""Another part over the same recordings: what each cell sees, what is refused, that the work can be shared out."""

from __future__ import annotations

import math
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.device.part.material import Material, RecordingLimits, filter_refusal, refusal, step_of
from detect.device.part.what_if import (
    HALF_RATE,
    Grid,
    PartCell,
    WhatIfJob,
    clipped_falls,
    refused,
    retuned,
    through,
    tried,
    what_if,
)
from detect.rule.front_end import FrontEnd, resample
from detect.rule.settings import DEFAULTS, BadSetting
from detect.rule.timeline import even
from detect.scoring.corpus import corpus_of
from detect.scoring.score import events_from
from detect.workers import Shared, Stopped
from tests.detect.device.made_material import fall, material, walk

FREELY = [RecordingLimits("R0", 100.0, math.inf, 1e-4)]
IN_HAND = PartCell(FrontEnd(4, 12, 50), None)


def made() -> Material:
    return material([(fall(100), True), (fall(100, 4.5), True), (fall(100, 1.2), True), (walk(100), False),
                     (fall(100), False), (walk(100), False)])


def test_a_recording_of_50_hz_says_nothing_about_200() -> None:
    said = refusal([RecordingLimits("R0", 50.0, math.inf, 0.002)], FrontEnd(4, 12, 200))
    assert said == "The recording is of 50 Hz: they say nothing about 200 Hz. Take at most 50 Hz."


def test_one_that_clips_at_4_g_says_nothing_about_8() -> None:
    recorded = [RecordingLimits("R0", 50.0, 4.0, 0.002), RecordingLimits("R1", 50.0, math.inf, 0.002)]
    said = refusal(recorded, FrontEnd(8, 12, 50))
    assert "R0 clips at ±4 g" in said
    assert "or leave them out of the score" in said
    assert refusal([RecordingLimits("R0", 50.0, 3.99, 0.00195)], FrontEnd(4, 12, 50)) == ""


def test_steps_of_10_mg_say_nothing_about_14_bits() -> None:
    said = refusal([RecordingLimits("R0", 50.0, math.inf, 0.010)], FrontEnd(4, 14, 50))
    assert said.startswith("The recording is in steps of 10 mg: they say nothing about 14 bits of ±4 g, 0.488 mg.")
    assert said.endswith("Take at most 9 bits.")
    assert refusal([RecordingLimits("R0", 50.0, math.inf, 0.010)], FrontEnd(4, 9, 50)) == ""
    assert "a range of at least ±12.8 g" in refusal([RecordingLimits("R0", 50.0, math.inf, 0.1)], FrontEnd(2, 8, 50))


@given(st.integers(8, 14), st.sampled_from([2.0, 4.0, 8.0, 16.0]), st.integers(0, 999))
def test_the_step_of_counts_is_found_again(bits: int, range_g: float, seed: int) -> None:
    """Noise about rest, in counts of a part, written with five decimals."""
    step = range_g / 2 ** (bits - 1)
    g = np.random.default_rng(seed).normal(0, 30 * step, size=(5000, 3)) + np.array([0, 1, 0])
    assert step_of(np.round(np.round(g / step) * step, 5)) == pytest.approx(step, rel=0.02, abs=1.5e-6)


def test_readings_in_no_steps_have_none() -> None:
    assert step_of(np.random.default_rng(0).normal(0, 0.1, (5000, 3))) == 0
    assert step_of(walk(50)) == 0
    assert step_of(fall(50)) == 0  # a handful of levels tell nothing


def test_a_filter_above_half_the_rate_is_refused() -> None:
    assert "above half the rate, 25 Hz" in filter_refusal(50, 30.0, FREELY)
    assert "Nothing above 50 Hz" in filter_refusal(400, 120.0, FREELY)
    assert filter_refusal(50, 25.0, FREELY) == ""
    assert filter_refusal(50, None, FREELY) == ""


def test_a_threshold_that_the_part_can_not_hold_is_refused() -> None:
    said = refused(PartCell(FrontEnd(400, 8, 50), None), FREELY, DEFAULTS.with_value("still_on", False))
    assert "free_fall_g" in said or "active" in said or "still" in said


def test_a_part_without_a_filter_is_seen_as_any_score_sees_it() -> None:
    g = walk(100)
    assert np.array_equal(through(g, 100, 40, None), resample(g, 100, 40))
    assert through(g, 100, 100, None) is g


def test_each_cell_is_scored_on_its_own_range_and_rate() -> None:
    """A fall of 3 g and one of 4.5 g are caught; one of 1.2 g is not; lying down hard is a false alarm."""
    found = what_if(Shared(made()), FREELY, Grid((2.5, 8.0), (50.0,), (12,), (None, HALF_RATE)), DEFAULTS, IN_HAND)
    assert found[0].cell == IN_HAND
    assert len(found) == 5
    for one in found:
        assert one.refused == ""
        assert one.figures is not None
        m = one.figures.matrix
        assert (m.tp, m.fn, m.fp, m.tn) == (2, 1, 1, 2)
        assert one.free_fall_counts == one.cell.front_end.counts(DEFAULTS.number("free_fall_g"))
    clipped = {(one.cell.front_end.range_g, one.cell.corner_hz): (one.clipped, one.falls) for one in found}
    assert clipped[2.5, None] == (2, 3)
    assert clipped[4.0, None] == (1, 3)
    assert clipped[8.0, None] == (0, 3)


def test_a_range_that_no_impact_reaches_misses_every_fall() -> None:
    settings = DEFAULTS.with_value("impact_g", 2.5)
    found = what_if(Shared(made()), FREELY, Grid((1.0, 4.0), (50.0,), (12,), (None,)), settings, IN_HAND)
    by_range = {one.cell.front_end.range_g: one for one in found}
    assert by_range[1.0].figures is not None
    assert by_range[1.0].figures.matrix.tp == 0
    assert "no impact is ever seen" in by_range[1.0].doubts[0]
    assert by_range[4.0].figures is not None
    assert by_range[4.0].figures.matrix.tp == 2


def test_a_slow_filter_flattens_impacts_until_they_are_missed() -> None:
    settings = DEFAULTS.with_value("impact_g", 2.5)
    found = what_if(Shared(made()), FREELY, Grid((8.0,), (100.0,), (12,), (None, 1.0)), settings, IN_HAND)
    caught = [one.figures.matrix.tp for one in found if one.figures is not None and one.cell != IN_HAND]
    assert caught == [2, 0]


def test_the_part_in_hand_is_tried_whatever_the_recordings_bear() -> None:
    coarse = [RecordingLimits("R0", 100.0, 4.0, 0.01)]
    found = what_if(Shared(made()), coarse, Grid((8.0,), (50.0,), (12,), (None,)), DEFAULTS, IN_HAND)
    assert found[0].figures is not None
    assert "steps of 10 mg" in found[0].doubts[0]
    assert "clips at ±4 g" in found[1].refused
    assert found[1].figures is None


def test_threads_find_what_one_process_finds_and_it_can_be_called_off() -> None:
    grid = Grid((2.0, 4.0), (25.0, 50.0, 100.0), (8, 12), (None, 10.0))
    here = what_if(Shared(made()), FREELY, grid, DEFAULTS, IN_HAND)
    shares: list[float] = []
    with ThreadPoolExecutor(2) as executor:
        there = what_if(Shared(made()), FREELY, grid, DEFAULTS, IN_HAND, executor=executor, done=shares.append)
        with pytest.raises(Stopped):
            what_if(Shared(made()), FREELY, grid, DEFAULTS, IN_HAND, executor=executor, cancelled=lambda: True)
    assert here == there
    assert shares == sorted(shares)
    assert shares[-1] == 1


def test_the_same_noise_is_drawn_whoever_works_and_none_where_none_is_asked_for() -> None:
    loud = Grid((4.0,), (50.0, 100.0), (12,), (None, 20.0), noise_ug=40_000.0)
    here = what_if(Shared(made()), FREELY, loud, DEFAULTS, IN_HAND)
    with ThreadPoolExecutor(2) as executor:
        assert what_if(Shared(made()), FREELY, loud, DEFAULTS, IN_HAND, executor=executor) == here
    caught = {(one.cell.corner_hz, one.cell.noise_ug): one.figures.matrix.tp for one in here
              if one.figures is not None and one.cell.front_end.rate_hz == 50}
    # 40 mg/√Hz are 0.2 g through half of 50 Hz: beyond stillness; a filter of 20 Hz leaves 0.224 g, as much.
    assert caught == {(None, 0.0): 2, (None, 40_000.0): 0, (20.0, 40_000.0): 0}


def test_gaps_stay_gaps() -> None:
    """The same fall with a gap in its free fall: the rule forgets there."""
    g = fall(100)
    line = even(len(g), 100)
    cut = type(line)(np.array([0, 992]), np.array([0.0, 10.0]), np.array([0.01, 0.01]), len(g))
    for corner in (None, 20.0):
        plan = WhatIfJob((PartCell(FrontEnd(8, 12, 50), corner),), DEFAULTS)
        (whole,), (gap,) = (tried(material([(g, True)], lines=[one]), plan) for one in (line, cut))
        assert whole.figures is not None
        assert gap.figures is not None
        assert (whole.figures.matrix.tp, gap.figures.matrix.tp) == (1, 0)


def test_settings_are_searched_anew_for_a_part() -> None:
    """At 1.2 g of impact the default misses one fall of three; a lower threshold catches it."""
    found = retuned(made(), PartCell(FrontEnd(4, 12, 25), None), DEFAULTS)
    assert found is not None
    assert found.in_sample.matrix.tp + found.in_sample.matrix.fn == 3
    before = tried(made(), WhatIfJob((PartCell(FrontEnd(4, 12, 25), None),), DEFAULTS))[0]
    assert before.figures is not None
    assert found.in_sample.youden_j is not None
    assert before.figures.youden_j is not None
    assert found.in_sample.youden_j.value >= before.figures.youden_j.value
    assert found.left_out is not None
    only_walks = material([(walk(100), False)])
    assert retuned(only_walks, IN_HAND, DEFAULTS) is None


def test_a_fall_clips_where_its_hardest_sample_does() -> None:
    counts = np.zeros((100, 3), np.int16)
    counts[50], counts[60] = (127, 0, 0), (100, 100, 0)
    events = events_from([0], [True], [0.9], [1.9], [even(100, 50)])
    assert clipped_falls(corpus_of([[counts]]), events, -127, 127) == (0, 1)
    counts[60] = (0, 0, 0)
    assert clipped_falls(corpus_of([[counts]]), events, -127, 127) == (1, 1)


def test_a_filter_that_is_none_is_refused() -> None:
    with pytest.raises(BadSetting, match="not a corner of a low-pass"):
        Grid((2.0,), (50.0,), (12,), (-1.0,)).cells()
    with pytest.raises(BadSetting, match="not a resolution"):
        Grid((2.0,), (50.0,), (20,), (None,)).cells()


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="asks the system for a process' largest size, as Unix tells it")
def test_sixty_parts_over_ten_million_samples_stay_under_four_gigabytes() -> None:
    """Two workers and the process that hands out; measured in a process of its own."""
    root = Path(__file__).parents[4]
    said = subprocess.run([sys.executable, "-m", "tests.detect.device.part.what_if_memory", "2"], cwd=root, check=True,
                          capture_output=True, text=True).stdout
    own, worker, tried = (int(word) for word in said.split()[:3])
    assert tried == 60
    assert worker > 100e6  # they did the work
    assert own + 2 * worker < 4e9
