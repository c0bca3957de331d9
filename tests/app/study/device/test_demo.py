"""The demo under its own device: a few of its events are so close to a threshold that tolerances and mounting show."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.study import actions
from app.study.device.mounting import mounting_view
from app.study.device.tolerance import run
from app.study.session import Session
from data.demo.write import write_demo

LEAVES, DECK_CHAIR = "W05 leaf heap 1", "W04 deck chair 1"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_demo(tmp_path_factory.mktemp("demo"))


def test_devices_within_the_usual_tolerances_change_outcomes(demo: Path) -> None:
    session = Session.opened(demo)
    for key, value in (("spread.devices", 150.0), ("spread.alone", 0.0)):
        session.act(actions.set_device_value(session.study, key, value), key)
    view = run(session.study, session.evaluated()[:3])
    assert {LEAVES, DECK_CHAIR} <= {row.recording for row in view.flips}


def test_another_mounting_changes_an_outcome(demo: Path) -> None:
    """The sweep that the topic starts with, of fewer angles."""
    session = Session.opened(demo)
    for key, value in (("mounting.sweep_about", "y"), ("mounting.sweep_step_deg", 15.0)):
        session.act(actions.set_device_value(session.study, key, value), key)
    view = mounting_view(session.study, session.evaluated()[:3])
    assert LEAVES in {flip.recording for flips in view.flips.values() for flip in flips}
