"""A script leads a session of volunteers through its trials."""

from __future__ import annotations

from PySide6.QtWidgets import QMessageBox

from tests.app.mouse import answer, click
from tests.app.ui.capture.boards import POSIX, sending, write

SCRIPT = "activity,kind,times,instructions\nsit down,other,1,Sit down at once.\nslip,fall,1,Fall onto the mat.\n"


def trial(capturing, qtbot):
    """Start, count down, run until something was received, end."""
    panel, strips = capturing.dialog.volunteers, capturing.dialog.strips
    click(panel.start)
    assert panel.large.text() == "3…"
    qtbot.waitUntil(panel.end.isEnabled, timeout=30_000)
    enough = strips.status[1].received + 20
    qtbot.waitUntil(lambda: strips.status[1].received > enough, timeout=60_000)
    click(panel.end)


@POSIX
def test_a_script_leads_through_trials_with_cautions_before_the_first_fall(capturing, port, qtbot, tmp_path, program):
    ours, path = port
    dialog, panel = capturing.dialog, capturing.dialog.volunteers
    assert not panel.isVisible()
    (tmp_path / "script.csv").write_text(SCRIPT)
    capturing.volunteers.open(tmp_path / "script.csv", 0)
    order = [one.activity for one in capturing.volunteers.session.ahead]
    assert panel.large.text() == f"1 of 2: {order[0]}"
    assert not panel.start.isEnabled()
    write(dialog.form.place, path)
    click(dialog.record)
    qtbot.waitUntil(lambda: dialog.recording, timeout=30_000)
    sender = sending(ours, 1, 20_000, speed=1)
    qtbot.waitUntil(lambda: bool(dialog.strips.status), timeout=30_000)
    if order[0] == "slip":
        click(panel.skip)
    trial(capturing, qtbot)
    assert panel.checked.text().startswith("Last trial, sit down: ")
    asked = answer(QMessageBox.StandardButton.No)
    click(panel.start)
    assert "abort" in asked[0] or "stops a trial" in asked[0]
    assert panel.large.text() == "2 of 2: slip"
    answer(QMessageBox.StandardButton.Yes)
    trial(capturing, qtbot)
    assert panel.large.text() == "All trials are done."
    click(panel.redo)
    assert panel.large.text() == "2 of 2: slip"
    trial(capturing, qtbot)
    click(dialog.record)
    sender.kill()
    sender.communicate()
    qtbot.waitUntil(lambda: "added to the study" in dialog.said.text(), timeout=60_000)
    item, = program.bench.session.study.items
    assert [(label.kind, label.name) for label in item.labels] == [("other", "sit down"), ("fall", "slip")]


def test_a_script_that_makes_no_sense_is_said_in_the_dialog(capturing, tmp_path):
    (tmp_path / "script.csv").write_text("activity,kind,times,instructions\nslip,tumble,1,\n")
    capturing.volunteers.open(tmp_path / "script.csv", 0)
    assert 'script.csv, line 2: kind is "tumble"' in capturing.dialog.said.text()
    assert not capturing.dialog.volunteers.isVisible()
