"""What is drawn of a recording: samples when there is room, extremes when there is not, nothing across a gap."""

from dataclasses import replace

import numpy as np
import pytest

from app.ui.charts.scale import Scale, TimeWindow
from app.ui.trace.events import Labels, Marks, Stages, apart, runs
from app.ui.trace.signal import DrawnSignal
from data.recordings.model import Label
from detect.rule.explanation import StageSpan
from tests.app.ui.trace.trace_made import COUNT, IMPACT, SPANS, K, counts, trace, with_gap


def pieces(curves):
    return np.split(curves.seconds, curves.breaks)


def test_a_near_look_draws_each_sample_and_one_beyond_either_edge():
    recorded = DrawnSignal(trace())
    curves = recorded.curves(TimeWindow(2.0, 4.0), 800)
    assert curves.samples
    assert curves.seconds == pytest.approx(np.arange(99, 202) / 50)
    assert curves.g[1] == pytest.approx(counts()[99:202, 1] / K)
    assert curves.g[3] == pytest.approx(np.sqrt((counts()[99:202] / K) ** 2 @ np.ones(3)))


def test_a_far_look_keeps_every_peak():
    recorded = DrawnSignal(trace())
    curves = recorded.curves(recorded.limits, 60)
    assert not curves.samples
    magnitude = np.sqrt((counts() / K) ** 2 @ np.ones(3))
    assert curves.g[3].max() == pytest.approx(magnitude.max())
    assert curves.g[3].min() == pytest.approx(magnitude.min())
    assert curves.g[0].max() == pytest.approx(counts()[:, 0].max() / K)
    assert len(curves.seconds) <= 120


@pytest.mark.parametrize("pixels", [60, 2000])
def test_a_gap_is_a_break_and_never_a_line_across_it(pixels):
    recorded = DrawnSignal(with_gap())
    curves = recorded.curves(recorded.limits, pixels)
    before, after = pieces(curves)
    assert before.max() <= 10.0 + 0.4
    assert after.min() >= 14.0 - 0.4
    assert recorded.gaps(recorded.limits) == [(pytest.approx(10.0), pytest.approx(14.0))]


def test_a_window_inside_a_gap_shows_nothing_of_it():
    recorded = DrawnSignal(with_gap())
    curves = recorded.curves(TimeWindow(11.0, 13.0), 800)
    assert all(len(piece) == 1 for piece in pieces(curves))
    assert recorded.samples_in(TimeWindow(11.0, 13.0)) == (500, 500)


def test_the_nearest_sample_is_found_across_a_gap():
    recorded = DrawnSignal(with_gap())
    assert recorded.nearest(10.5) == 499
    assert recorded.nearest(13.5) == 500
    assert recorded.nearest(-7) == 0
    assert recorded.nearest(99) == COUNT - 1


def test_one_sample_is_a_recording():
    recorded = DrawnSignal(trace(samples=1))
    assert recorded.limits == TimeWindow(0.0, pytest.approx(0.02))
    assert len(recorded.curves(recorded.limits, 100).seconds) == 1


def test_a_stage_holds_from_its_first_to_its_last_sample():
    stages = Stages(DrawnSignal(trace()), SPANS)
    assert stages.at(374).stage == "watch"
    assert stages.at(375).stage == "free fall"
    assert stages.at(IMPACT).stage == "impact"
    assert stages.at(443).stage == "settle"
    assert stages.at(543).note == "not still"
    assert Stages(DrawnSignal(trace()), ()).at(3) is None


def test_a_stage_of_one_sample_still_shows_when_everything_is_in_view():
    recorded = DrawnSignal(trace())
    stages = Stages(recorded, SPANS)
    time = Scale(recorded.limits.start, recorded.limits.end, 0, 50)
    ((start, end),) = stages.blocks("impact", time)
    assert end - start == 1
    assert start == pytest.approx(7.86 / 20 * 50, abs=1)
    assert stages.blocks("hold", time) == []


def test_a_stage_is_cut_to_the_window():
    stages = Stages(DrawnSignal(trace()), SPANS)
    assert stages.blocks("observe", Scale(9.0, 10.0, 0, 100)) == [(0, 100)]
    assert stages.blocks("settle", Scale(9.0, 10.0, 0, 100)) == []


def test_spans_do_not_reach_across_a_gap():
    recorded = DrawnSignal(with_gap())
    stages = Stages(recorded, (StageSpan(0, 499, "hold"), StageSpan(500, 999, "watch")))
    assert stages.blocks("hold", Scale(0.0, 20.0, 0, 200)) == [(0, 100)]


def test_labels_stand_at_their_times_and_a_whole_one_everywhere():
    made = trace()
    labels = (Label("other", "raking", None, None), Label("fall", "", 5.0, 6.0), Label("fall", "", 50.0, 51.0))
    recorded = DrawnSignal(replace(made, item=replace(made.item, labels=labels)))
    bands = Labels(recorded).bands(Scale(0.0, 20.0, 0, 200))
    assert [(band.label.name, band.start, band.end) for band in bands] == [("raking", 0, 200), ("", 50, 60)]


def test_marks_in_view_are_found_and_crowded_ones_thinned():
    marks = Marks(DrawnSignal(trace()), [900, 10, 10, 500])
    assert marks.samples.tolist() == [10, 500, 900]
    pixels, g = marks.standing(Scale(5.0, 15.0, 0, 100), 5)
    assert pixels == pytest.approx([50])
    assert g == pytest.approx([np.sqrt(0.81 + 0.04 + 0.09)], abs=0.005)
    assert apart([0.0, 1, 2, 9, 10, 30], 5) == [0, 3, 5]
    assert apart([], 5) == []


def test_covered_pixels_become_as_few_blocks_as_there_are():
    assert runs(np.array([5, 7, 20]), np.array([8, 10, 21])) == [(5, 10), (20, 21)]
    assert runs(np.array([5, 8]), np.array([8, 10])) == [(5, 10)]
    assert runs(np.array([], int), np.array([], int)) == []
