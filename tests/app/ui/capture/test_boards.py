"""Boards as they are told apart, what makes no sense, and what a crash left."""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor
from PySide6.QtTest import QTest

from app.study.capture.raw_file import RECEIVED, Header, RawWriter
from app.ui.capture.strips import is_wrong, words_of
from app.ui.capture.worn_table import forget_person
from app.ui.theme.stylesheet import theme_of
from tests.app.mouse import click
from tests.app.ui.capture.boards import board_said, recorded


def test_who_wears_a_board_is_remembered_by_its_serial_number(program, capturing, qtbot, tmp_path, settled):
    dialog = capturing.dialog
    recorded(capturing, qtbot, board_said(tmp_path, (1, 77), (2, 78)), 2)
    qtbot.waitUntil(lambda: dialog.worn.rowCount() == 2, timeout=30_000)
    assert [dialog.worn.item(row, 0).text() for row in (0, 1)] == ["77", "78"]
    for row, column, text in ((0, 1, "P01"), (0, 2, "waist"), (1, 1, "P02")):
        click(dialog.worn.line(row, column))
        QTest.keyClicks(dialog.worn.line(row, column), text)
    assert "Node 1, board 77: P01, waist" in [words_of(dialog.strips.status[1], dialog.strips.worn[1])[0]]
    click(dialog.record)
    qtbot.waitUntil(lambda: "2 recordings added" in dialog.said.text(), timeout=30_000)
    settled()
    assert {(item.about.person, item.about.placement) for item in program.bench.session.study.items} == {
        ("P01", "waist"), ("P02", "")}
    recorded(capturing, qtbot, board_said(tmp_path, (5, 77)), 1)  # another number, the same board
    qtbot.waitUntil(lambda: dialog.worn.rowCount() == 1, timeout=30_000)
    assert dialog.worn.words() == {5: "P01, waist"}
    forget_person(program.preferences, "P01")
    dialog.worn.clear_boards()
    dialog.worn.hear([dialog.strips.status[5]], "")
    assert dialog.worn.words() == {5: ""}
    click(dialog.record)
    qtbot.waitUntil(lambda: "added to the study" in dialog.said.text() and dialog.record.isEnabled(), timeout=30_000)
    settled()


def test_two_boards_under_one_number_are_told_when_their_recordings_are_taken(capturing, qtbot, tmp_path, settled):
    dialog = capturing.dialog
    recorded(capturing, qtbot, board_said(tmp_path, (1, 77), (1, 78)), 1)
    qtbot.waitUntil(lambda: dialog.strips.status[1].conflict, timeout=30_000)
    click(dialog.record)
    qtbot.waitUntil(lambda: "Boards 77 and 78 sent as node 1" in dialog.said.text(), timeout=30_000)
    assert dialog.said.property("role") == "wrong"
    settled()


def test_bytes_that_make_no_sense_say_what_to_check_and_lines_are_shown_as_they_are_read(capturing, qtbot, tmp_path):
    dialog = capturing.dialog
    recorded(capturing, qtbot, board_said(tmp_path, (1, 77)), 0, protocol="binary")
    qtbot.waitUntil(lambda: "Check the baud rate" in dialog.preview.text(), timeout=30_000)
    assert "no node was understood" in dialog.strips.nothing
    click(dialog.record)
    qtbot.waitUntil(lambda: "No node has sent two samples" in dialog.said.text(), timeout=30_000)
    (tmp_path / "columns.txt").write_text("".join(f"{i},7,1,2,512\n" for i in range(100)))
    dialog.form.columns.setText("sequence,-,x,y,z")
    dialog.form.rate.setText("50")
    recorded(capturing, qtbot, tmp_path / "columns.txt", 1, protocol="columns")
    read = "99,7,1,2,512  →  node 0, number 99: x 1, y 2, z 512"
    qtbot.waitUntil(lambda: read in dialog.preview.text(), timeout=30_000)
    click(dialog.record)
    qtbot.waitUntil(lambda: "1 recording added" in dialog.said.text(), timeout=30_000)


def test_a_raw_capture_that_a_crash_left_is_offered_and_made_into_recordings(capturing, qtbot, tmp_path, settled,
                                                                            monkeypatch, program):
    capturing.folder.mkdir(parents=True)
    raw = capturing.folder / "2026-01-31_09-00-00-0.plfcap"
    writer = RawWriter(raw, Header("test", "text"))
    writer.append(RECEIVED, board_said(tmp_path, (1, 77)).read_bytes())
    writer.close()
    capturing.dialog.hide()
    capturing.show()
    assert "1 raw capture beside the study has no recordings yet" in capturing.dialog.said.text()
    monkeypatch.setattr("app.ui.capture.intake.QFileDialog.getOpenFileName", lambda *a: (a[2], ""))
    click(capturing.dialog.recover)
    qtbot.waitUntil(lambda: "1 recording added" in capturing.dialog.said.text(), timeout=30_000)
    settled()
    assert len(program.bench.session.library) == 1
    assert not capturing.intake.left()


def test_a_node_that_ends_is_told_while_the_others_go_on_and_with_the_recordings(capturing, qtbot, tmp_path, settled):
    dialog, path = capturing.dialog, board_said(tmp_path, (1, 77), (2, 78))
    recorded(capturing, qtbot, path, 2)
    assert not is_wrong(dialog.strips.status[2], 2, 0.01)
    for at in range(300, 500, 10):
        with path.open("a") as file:
            file.write("".join(f"S,1,{i},{20_000 * i},0,512,0\n" for i in range(at, at + 10)))
        qtbot.wait(200)
    assert words_of(dialog.strips.status[1])[2] == "watch"
    assert words_of(dialog.strips.status[2])[2].startswith("nothing for ")
    assert is_wrong(dialog.strips.status[2], 2, 0.01)
    click(dialog.record)
    qtbot.waitUntil(lambda: "2 recordings added" in dialog.said.text(), timeout=30_000)
    settled()
    assert "Node 2 sent nothing in the last" in dialog.said.text()
    assert "Node 1 sent nothing" not in dialog.said.text()


def test_two_boards_at_one_place_with_nobody_named_are_warned_of_beside_the_table(capturing, qtbot, tmp_path, settled):
    dialog = capturing.dialog
    recorded(capturing, qtbot, board_said(tmp_path, (1, 77), (2, 78)), 2)
    assert not dialog.alike.isVisible()
    for row in (0, 1):
        click(dialog.worn.line(row, 2))
        QTest.keyClicks(dialog.worn.line(row, 2), "waist")
    assert dialog.alike.isVisible()
    assert dialog.alike.text() == "Boards 77, 78: same placement, waist, and no person. Enter who wears each."
    for row in (0, 1):
        click(dialog.worn.line(row, 1))
        QTest.keyClicks(dialog.worn.line(row, 1), "P01")
        assert dialog.alike.isVisible() == (row == 1)
    assert "same person, P01" in dialog.alike.text()
    QTest.keyClick(dialog.worn.line(1, 1), Qt.Key.Key_Backspace)
    QTest.keyClicks(dialog.worn.line(1, 1), "2")
    assert not dialog.alike.isVisible()
    who = dialog.strips.tip_at(QPoint(20, 10))
    assert who.startswith("Node 1, board 77: P01, waist\n300 samples, 0 lost")
    click(dialog.record)
    qtbot.waitUntil(lambda: "2 recordings added" in dialog.said.text(), timeout=30_000)
    settled()


def test_labels_are_seen_on_the_strips_until_they_are_taken_back(capturing, qtbot, tmp_path, settled):
    dialog, path = capturing.dialog, board_said(tmp_path, (1, 77))
    recorded(capturing, qtbot, path, 1)

    def send(begin, end):
        with path.open("a") as file:
            file.write("".join(f"S,1,{i},{20_000 * i},0,512,0\n" for i in range(begin, end)))
        qtbot.waitUntil(lambda: dialog.strips.status[1].received == end, timeout=30_000)

    def seen():
        """How many columns of the strip have a label's band."""
        strips = dialog.strips
        strips.show_status(list(strips.status.values()))
        image, band = strips.grab().toImage(), QColor(theme_of(strips.palette()).label_band)
        return sum(image.pixelColor(x, 6) == band for x in range(image.width()))

    assert seen() == 0
    click(dialog.other)
    send(300, 400)
    click(dialog.end_label)
    first = seen()
    assert first > 50
    send(400, 450)
    click(dialog.other)
    send(450, 500)
    assert seen() > first
    click(dialog.undo)
    qtbot.wait(60)
    assert seen() == first, "the one that was open"
    click(dialog.other)
    send(500, 520)
    click(dialog.end_label)
    click(dialog.undo)
    click(dialog.undo)
    qtbot.wait(60)
    assert seen() == 0
    click(dialog.record)
    qtbot.waitUntil(lambda: "1 recording added" in dialog.said.text(), timeout=30_000)
    settled()
