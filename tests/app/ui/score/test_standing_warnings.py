"""Standing warnings above the figures: a line opens what to do, one click does it or shows the recordings."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.study.results.content import StandingWarning
from app.study.results.standing_warnings import ONE_RATE, SHOW
from app.ui.score.standing_warnings import WarningsLabel
from tests.app.mouse import until_active

RATE = StandingWarning("rate_hz", "Rate alone tells falls apart", "Rate alone tells.", "Bring all to 40 Hz.", ONE_RATE,
                       "Bring all to 40 Hz", ("a", "b"), "rate below 45 Hz")
EARLY = StandingWarning("ends_early", "Recordings end too soon", "They end <early>.", "Record on.", SHOW,
                        "Show 2 recordings", ("a", "c"), "ends within 3 s")


@pytest.fixture
def label(qtbot) -> WarningsLabel:
    label = WarningsLabel()
    qtbot.addWidget(label)
    label.resize(320, 160)
    label.show_warnings((RATE, EARLY))
    label.show()
    until_active(label)
    return label


def test_a_line_opens_and_closes_what_to_do(label):
    assert "Record on." not in label.text()
    label.linkActivated.emit("more:ends_early")
    assert "They end &lt;early&gt;. Record on." in label.text()
    label.linkActivated.emit("more:ends_early")
    assert "Record on." not in label.text()
    label.open_all()
    assert "Record on." in label.text()
    assert "Bring all to 40 Hz." in label.text()


@pytest.mark.parametrize(("tabs", "happens"), [(1, "opened"), (2, "asked"), (4, "shown")])
def test_enter_on_a_link_opens_asks_or_shows(label, tabs, happens):
    found = []
    label.action_asked.connect(lambda action: found.append(("asked", action)))
    label.recordings_asked.connect(lambda *said: found.append(("shown", *said)))
    label.setFocus(Qt.FocusReason.TabFocusReason)
    for _ in range(tabs):
        QTest.keyClick(label, Qt.Key.Key_Tab)
    QTest.keyClick(label, Qt.Key.Key_Return)
    assert ("Rate alone tells. Bring all to 40 Hz." in label.text()) == (happens == "opened")
    assert found == {"opened": [], "asked": [("asked", ONE_RATE)],
                     "shown": [("shown", "ends within 3 s", ("a", "c"))]}[happens]


def test_without_a_warning_it_takes_no_room_and_the_text_has_all(label):
    assert label.as_text().splitlines()[1] == "rate_hz\tRate alone tells.\tBring all to 40 Hz.\t2"
    label.show_warnings(())
    assert not label.isVisible()


def test_the_least_of_many_are_one_line_that_opens(label):
    more = [StandingWarning(f"other_{i}", f"Other {i}", f"Other {i}.", "Do.") for i in range(4)]
    label.show_warnings((RATE, EARLY, *more))
    said = label.text().replace("&nbsp;", " ")
    assert [title in said for title in (RATE.title, EARLY.title, "Other", "▸ 4 more")] == [True, True, False, True]
    assert said.count("<p ") == 3
    assert "Other 3. Do." in label.toolTip()
    label.linkActivated.emit("all:")
    said = label.text().replace("&nbsp;", " ")
    assert "Other 3" in said
    assert "more" not in said.replace("more:", "")
