"""Comparing parts in the Device window: run by its button, a part chosen, its registers saved, its files named."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from app.study import actions
from app.study.device.parts import LOST
from app.ui.device.parts import TABLE, PartsTopic
from app.ui.program import Program
from app.ui.widgets.table import ROW_HEIGHT
from tests.app import study_made
from tests.app.mouse import click
from tests.app.study.device.test_parts import SMALL


@pytest.fixture
def topic(program: Program, settled: Callable[[], None]) -> PartsTopic:
    """In front, on a scored study."""
    program.bench.take_session(study_made.session_of(study_made.made()[:-1]))
    settled()
    program.device.show()
    found = program.device.parts.topic
    program.device.beside.show_topic(found.title)
    QApplication.processEvents()
    return found


def run(topic: PartsTopic, qtbot) -> None:
    click(topic.go)
    qtbot.waitUntil(lambda: not topic.working, timeout=30_000)
    QApplication.processEvents()


def test_the_typical_parts_are_compared_and_a_click_shows_what_one_meets(topic, program, qtbot):
    assert not topic.save.isEnabled()
    run(topic, qtbot)
    assert topic.in_front == TABLE
    assert "requirements met" in topic.said.text()
    assert len(topic.parts.rows_model.rows) == 9
    assert {topic.parts.rowHeight(at) for at in range(9)} == {ROW_HEIGHT}, "the hidden remark makes no room for itself"
    assert topic.parts.isColumnHidden(LOST), "nothing sleeps"
    index = topic.parts.rows_model.index(8, 0)
    topic.parts.scrollTo(index)
    QTest.mouseClick(topic.parts.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier,
                     topic.parts.visualRect(index).center() - QPoint(20, 0))
    assert topic.chosen is topic.view.rows[8]
    assert topic.view.rows[8].candidate.name in topic.remark.text()
    texts = [row.texts[3] for row in topic.held.rows_model.rows]
    assert len(texts) == 7
    assert set(texts) <= {"met", "NOT MET", "not known"}
    program.bench.act(actions.set_device_value(program.bench.session.study, "current.sleeps", "until woken"), "sleeps")
    qtbot.waitUntil(lambda: topic.stale)
    run(topic, qtbot)
    assert not topic.parts.isColumnHidden(LOST)
    assert topic.parts.rows_model.rows[0].texts[LOST] == "0 of 2"
    assert topic.parts.columnWidth(LOST) >= topic.parts.sizeHintForColumn(LOST)


def test_a_part_of_ones_own_is_kept_used_and_removed_each_in_one_step(topic, program, qtbot, monkeypatch, tmp_path):
    part = tmp_path / "small.toml"
    part.write_text(SMALL)
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(part)], ""))
    bench, before = program.bench, program.bench.session.study
    click(topic.add)
    qtbot.waitUntil(lambda: topic.view is not None and not topic.working, timeout=30_000)
    assert [one.name for one in bench.session.study.parts] == ["digital, made up"]
    part.unlink()
    run(topic, qtbot)
    assert [row.texts[0] for row in topic.parts.rows_model.rows] == ["digital, made up, ±4\u00a0g"]
    click(topic.use)
    qtbot.waitUntil(lambda: not topic.working, timeout=30_000)
    assert bench.session.study.device.number("current.running_ua") == 20
    click(topic.remove)
    qtbot.waitUntil(lambda: not topic.working and len(topic.view.rows) == 9, timeout=30_000)
    assert bench.session.study.parts == ()
    assert not topic.remove.isEnabled(), "a typical part is not the study's"
    for _ in range(3):
        bench.undo()
    assert bench.session.study == before


def test_files_are_named_and_the_registers_of_a_part_are_saved_as_macros(topic, program, qtbot, monkeypatch, tmp_path):
    part, header = tmp_path / "small.toml", tmp_path / "registers.h"
    part.write_text(SMALL)
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(part)], ""))
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(header), ""))
    program.device.parts.ask_parts()
    qtbot.waitUntil(lambda: topic.view is not None and not topic.working, timeout=30_000)
    assert [row.texts[:3] for row in topic.registers.rows_model.rows] == [
        ("range_g", "FULL_SCALE", "1"), ("wake.free_fall_g", "FREE_FALL_THRESHOLD", "6")]
    click(topic.save)
    assert "#define PLF_REGISTER_FREE_FALL_THRESHOLD 6U" in Path(header).read_text()


def test_a_file_that_is_no_part_is_refused_in_words(topic, program, monkeypatch, tmp_path):
    bad = tmp_path / "bad.toml"
    bad.write_text(SMALL.replace('kind = "digital"', 'kind = "x"'))
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(bad)], ""))
    program.device.parts.ask_parts()
    assert "bad.toml" in topic.said.text()
    assert not topic.working
