"""The Device window under mouse and keys: the part, what if it were another, a range that switches."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QWidget

from app.study.device.what_if import ANEW
from app.ui.device.topic import Topic
from app.ui.device.what_if import LISTS, TABLE, WhatIfTopic
from app.ui.device.window import Device
from app.ui.program import Program
from detect.rule.front_end import FrontEnd
from tests.app.mouse import click


@pytest.fixture
def device(study: Program) -> Device:
    """The Device window in front, on the corpus."""
    study.device.show()
    QApplication.processEvents()
    return study.device


def show(device: Device, topic: Topic) -> None:
    device.beside.show_topic(topic.title)
    QApplication.processEvents()


@pytest.fixture
def through(qtbot, study: Program) -> Callable[[], None]:
    """Wait until runs of the topics and the score are over, and shown."""

    def wait() -> None:
        jobs = study.device.what_if.jobs, study.device.ranges.jobs, study.jobs
        qtbot.waitUntil(lambda: all(one.at_rest for one in jobs), timeout=20_000)
        QApplication.processEvents()

    return wait


def typed(field: QWidget, text: str) -> None:
    click(field)
    QTest.keySequence(field, "Ctrl+A")
    QTest.keyClicks(field, text)


def choose(box: QComboBox, text: str) -> None:
    """As a person does: pick by its name's keys and take it."""
    box.setFocus()
    QTest.keyClicks(box, text)
    box.activated.emit(box.currentIndex())


def row_of(section: WhatIfTopic, text: str) -> int:
    rows = section.table.rows_model.rows
    return next(i for i, row in enumerate(rows) if row.texts[0].endswith(text))


def click_row(section: WhatIfTopic, text: str) -> None:
    table = section.table
    index = table.rows_model.index(row_of(section, text), 0)
    table.scrollTo(index)
    QTest.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier,
                     table.visualRect(index).center() - QPoint(40, 0))


def test_the_parts_numbers_are_the_studys_and_a_change_is_undone(study: Program, device: Device, qtbot) -> None:
    topic = device.part.topic

    def noise() -> str:
        return next(row for row in topic.figures.rows_model.rows if row.texts[0] == "noise, in mg").texts[1]

    box = topic.form.fields["digital.noise_ug"]
    typed(box, "200")
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert study.bench.session.study.device.number("digital.noise_ug") == 200
    qtbot.waitUntil(lambda: noise().startswith("1.253"))  # 0.2 mg/√Hz · √(π/2 · 25 Hz)
    study.bench.undo()
    qtbot.waitUntil(lambda: noise().startswith("0.94"))


def test_a_number_out_of_bounds_is_refused_in_words(study: Program, device: Device) -> None:
    form = device.part.topic.form
    box = form.fields["digital.buffer"]
    typed(box, "99999")
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert "outside 0 … 4096 samples" in form.refusal.text().replace("\u202f", "").replace("4 096", "4096")
    assert study.bench.session.study.device.number("digital.buffer") == 32


def test_an_analogue_part_is_taken_into_the_score_and_its_numbers_then_score_at_once(
        study: Program, device: Device, through: Callable[[], None], qtbot) -> None:
    topic = device.part.topic
    kind = topic.form.fields["part.kind"]
    assert isinstance(kind, QComboBox)
    assert topic.take.isHidden()
    choose(kind, "analogue")
    through()
    qtbot.waitUntil(lambda: not topic.take.isHidden())  # a page that is slow to fill is filled a moment later
    assert "The score is of another front end" in topic.remark.text()
    assert topic.form.fields["digital.noise_ug"].isHidden()
    assert " V 1." in study.window.trace.readout.text()
    click(topic.take)
    through()
    qtbot.waitUntil(topic.take.isHidden)
    front_end = study.bench.session.study.front_end
    assert (front_end.range_g, front_end.bits) == (3.0, 12)
    assert front_end.counts_per_g == pytest.approx(409.6)
    box = topic.form.fields["analog.sensitivity_mv"]
    typed(box, "600")
    QTest.keyClick(box, Qt.Key.Key_Return)
    through()
    assert study.bench.session.study.front_end.counts_per_g == pytest.approx(819.2)
    for _ in range(3):
        study.bench.undo()
    assert study.bench.session.study.front_end == FrontEnd()
    assert " V " not in study.window.trace.readout.text()


def test_other_parts_are_tried_beside_the_window_and_one_is_taken(
        study: Program, device: Device, through: Callable[[], None], tmp_path: Path, qtbot) -> None:
    section = device.what_if.topic
    show(device, section)
    assert section.texts()["rates"].split() == ["12.5", "25", "50"]
    for key, text in (("ranges", "2, 4"), ("rates", "25 50 400"), ("bits", "8"), ("filters", "none")):
        typed(section.fields[key], text)
    click(section.go)
    through()
    assert section.in_front == TABLE
    assert "5 tried, 2 refused" in section.said.text()
    rows = section.table.rows_model.rows
    assert rows[0].texts[0] == "current: ±4 g, 12 bits, 50 Hz"
    assert [row.texts[2] for row in rows].index("refused") == 5
    assert section.table.isColumnHidden(ANEW)
    score = study.bench.session.results().score
    assert rows[0].texts[2] == next(cell.text for cell in score.cells if cell.name == "sensitivity")

    click_row(section, "±4 g, 8 bits, 400 Hz")
    assert "say nothing about 400 Hz" in section.said.text()
    assert study.bench.session.study.front_end == FrontEnd()
    click_row(section, "±2 g, 8 bits, 25 Hz")
    through()
    assert study.bench.session.study.front_end == FrontEnd(2.0, 8, 25.0)
    qtbot.waitUntil(lambda: rows != section.table.rows_model.rows)
    assert section.table.rows_model.rows[row_of(section, "±2 g, 8 bits, 25 Hz")].texts[0].startswith("current: ")
    assert not section.stale

    study.bench.choose("impact_g", 2.4)
    qtbot.waitUntil(lambda: section.stale)
    assert "run again" in section.said.text()
    study.bench.undo()
    qtbot.waitUntil(lambda: not section.stale)
    section.copy_text()
    assert QGuiApplication.clipboard().text().startswith("part\tfilter\tsensitivity")
    device.what_if.save(tmp_path / "parts.csv")
    assert len(list(csv.reader((tmp_path / "parts.csv").read_text().splitlines()))) == 8


def test_what_can_not_be_read_is_said_and_nothing_runs(study: Program, device: Device) -> None:
    section = device.what_if.topic
    show(device, section)
    typed(section.fields["bits"], "7")
    QTest.keyClick(section.fields["bits"], Qt.Key.Key_Return)
    assert "7 is not a resolution" in section.said.text()
    assert section.in_front == LISTS
    assert not section.working


def test_a_run_is_cancelled(study: Program, device: Device, through: Callable[[], None]) -> None:
    section = device.what_if.topic
    show(device, section)
    click(section.go)
    assert section.go.text() == "Stop"
    click(section.go)
    through()
    assert section.go.text() == "Run"
    assert "Cancelled" in section.said.text()
    assert section.view is None


def test_a_filter_is_said_to_be_left_out_of_the_score(study: Program, device: Device,
                                                      through: Callable[[], None]) -> None:
    section = device.what_if.topic
    show(device, section)
    for key, text in (("ranges", "4"), ("rates", "25"), ("bits", "12"), ("filters", "10")):
        typed(section.fields[key], text)
    QTest.keyClick(section.fields["filters"], Qt.Key.Key_Return)
    through()
    click_row(section, "±4 g, 12 bits, 25 Hz")
    assert "without the part's filter of 10 Hz" in study.window.status.message.toolTip()
    assert study.bench.session.study.front_end == FrontEnd(4.0, 12, 25.0)


def test_ranges_that_switch_are_compared_and_go_stale(study: Program, device: Device,
                                                      through: Callable[[], None], qtbot) -> None:
    section = device.ranges.topic
    show(device, section)
    assert "not exported" in section.said.text(), "before a run too"
    click(section.go)
    through()
    assert section.in_front == "Scores"
    assert "not exported" in section.said.text()
    assert [row.texts[0] for row in section.scores.rows_model.rows] == ["switched", "watch range kept",
                                                                        "high range kept"]
    assert "One stream to the rule: ±8 g, 14 bits" in section.said.text()
    section.show_place("Inputs")
    box = section.form.fields["ranges.high_g"]
    typed(box, "1")
    QTest.keyClick(box, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: section.stale)
    click(section.go)
    through()
    assert "not above the watch range" in section.said.text()
    section.copy_text()
    assert "switched" in QGuiApplication.clipboard().text()


def test_every_field_has_a_name_for_who_can_not_see_it(device: Device) -> None:
    for field in device.what_if.topic.fields.values():
        assert field.accessibleName()
        assert field.accessibleDescription()
