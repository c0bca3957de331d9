"""While two settings are compared, each has its stage lane under the trace."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint

from app.study import actions
from app.study.results.views import Views
from app.ui.theme.colours import DARK
from app.ui.theme.stylesheet import palette
from app.ui.trace.panel import TracePanel
from detect.rule.explanation import StageSpan
from tests.app.mouse import until_active
from tests.app.study_made import session
from tests.app.ui.trace.trace_made import COUNT, SPANS, trace

OTHER = (StageSpan(0, COUNT - 1, "watch"),)


@pytest.fixture
def panel(qtbot) -> TracePanel:
    made = TracePanel()
    qtbot.addWidget(made)
    made.resize(800, 420)
    made.show()
    until_active(made)
    made.show_trace(trace())
    made.show_stages(SPANS, (), (393,))
    qtbot.waitUntil(lambda: made.canvas.plots is not None)
    return made


def over(panel: TracePanel, lane: int) -> str:
    """The words under the mouse at sample 420, where the current rule settles."""
    at, scale = panel.canvas.at, panel.canvas.scales
    return panel.canvas.words_at(QPoint(round(scale.time.pixel(8.4)), at.lane_of(lane).center().y()))


def test_alone_the_rule_has_one_lane(panel):
    at = panel.canvas.at
    assert at.lane_names == ("rule",)
    assert at.lane == at.lanes
    assert over(panel, 0).startswith("settle, 7.88 to ")


@pytest.mark.parametrize(("side", "mine"), [("A", 0), ("B", 1)])
def test_a_stands_above_b_whichever_is_in_hand(panel, side, mine):
    one = panel.canvas.at.lanes.height()
    panel.canvas.show_other_stages(side, OTHER)
    at = panel.canvas.at
    assert at.lane_names == ("A", "B")
    assert at.lanes.height() == 2 * one
    assert at.lane_of(0).bottom() < at.lane_of(1).top()
    assert over(panel, mine).startswith("settle")
    assert over(panel, 1 - mine).startswith("watch, 0.00 to 20.00")


def test_the_second_lane_goes_when_nothing_is_compared_and_comes_back_with_another_recording(panel):
    alone = panel.grab().toImage()
    panel.canvas.show_other_stages("A", OTHER)
    both = panel.grab().toImage()
    assert both != alone
    panel.setPalette(palette(DARK))
    assert panel.grab().toImage() != both
    panel.show_trace(trace(name="W05 kerb 1"))
    assert panel.canvas.at.lane_names == ("A", "B")
    assert panel.canvas.shown_lanes() == []
    panel.canvas.show_other_stages("A", None)
    assert panel.canvas.at.lane_names == ("rule",)


def test_the_other_side_s_stages_are_those_of_its_settings():
    own = session()
    own.act(actions.compare_from_here(own.study), "compare")
    own.act(actions.set_value(own.study, "impact_g", 1.6), "impact")
    views = Views(own)
    assert {span.stage for span in own.stages("W01 low 1")[0]} > {"settle", "observe"}
    assert {span.stage for span in views.other_stages("W01 low 1")} == {"watch", "free fall"}
    assert views.other_stages("nobody") is None
    own.act(actions.drop_side(own.study), "drop")
    assert views.other_stages("W01 low 1") is None
