"""The front end page under mouse and keys: the part, what if it were another, a range that switches."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox, QWidget

from app.panels.device.front_end import FrontEndPage
from app.panels.device.what_if import LISTS, TABLE
from app.start import Program
from app.study.device.what_if_tables import ANEW
from detect.frontend import FrontEnd
from tests.app.mouse import click


@pytest.fixture
def page(study: Program) -> FrontEndPage:
    """The page in front, in the window on the corpus."""
    window = study.window
    window.tabs.show_page(window.device)
    window.device.pages.setCurrentWidget(window.device.front_end)
    return window.device.front_end


@pytest.fixture
def through(qtbot, study: Program) -> Callable[[], None]:
    """Wait until runs of the page and the score are over."""

    def wait() -> None:
        jobs = study.device_front_end.what_if.jobs, study.device_front_end.ranges.jobs, study.jobs
        qtbot.waitUntil(lambda: all(one.at_rest for one in jobs), timeout=20_000)

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


def row_of(page: FrontEndPage, text: str) -> int:
    rows = page.what_if.table.rows_model.rows
    return next(i for i, row in enumerate(rows) if row.texts[0].endswith(text))


def click_row(page: FrontEndPage, text: str) -> None:
    table = page.what_if.table
    index = table.rows_model.index(row_of(page, text), 0)
    table.scrollTo(index)
    QTest.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier,
                     table.visualRect(index).center() - QPoint(40, 0))


def test_the_parts_numbers_are_the_studys_and_a_change_is_undone(study: Program, page: FrontEndPage) -> None:
    form = page.part.form
    box = form.fields["digital.noise_ug"]
    typed(box, "200")
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert study.bench.session.study.device.number("digital.noise_ug") == 200
    click(page.part.as_figures)
    noise = next(row for row in page.part.figures.rows_model.rows if row.texts[0] == "noise")
    assert noise.texts[1].startswith("1.253")  # 0.2 mg/√Hz · √(π/2 · 25 Hz)
    study.bench.undo()
    noise = next(row for row in page.part.figures.rows_model.rows if row.texts[0] == "noise")
    assert noise.texts[1].startswith("0.94")


def test_a_number_out_of_bounds_is_refused_in_words(study: Program, page: FrontEndPage) -> None:
    box = page.part.form.fields["digital.buffer"]
    typed(box, "99999")
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert "outside 0 … 4096 samples" in page.part.form.refusal.text().replace("\u202f", "").replace("4 096", "4096")
    assert study.bench.session.study.device.number("digital.buffer") == 32


def test_an_analogue_part_is_taken_into_the_score_and_its_numbers_then_score_at_once(
        study: Program, page: FrontEndPage, through: Callable[[], None]) -> None:
    kind = page.part.form.fields["part.kind"]
    assert isinstance(kind, QComboBox)
    assert page.part.take.isHidden()
    choose(kind, "analogue")
    assert not page.part.take.isHidden()
    assert "The score is of another front end" in page.part.doubt.toolTip()
    assert page.part.form.fields["digital.noise_ug"].isHidden()
    assert " V 1." in study.window.trace.readout.text()
    click(page.part.take)
    through()
    front_end = study.bench.session.study.front_end
    assert (front_end.range_g, front_end.bits) == (3.0, 12)
    assert front_end.counts_per_g == pytest.approx(409.6)
    assert page.part.take.isHidden()
    box = page.part.form.fields["analog.sensitivity_mv"]
    typed(box, "600")
    QTest.keyClick(box, Qt.Key.Key_Return)
    through()
    assert study.bench.session.study.front_end.counts_per_g == pytest.approx(819.2)
    for _ in range(3):
        study.bench.undo()
    assert study.bench.session.study.front_end == FrontEnd()
    assert " V " not in study.window.trace.readout.text()


def test_other_parts_are_tried_beside_the_window_and_one_is_taken(
        study: Program, page: FrontEndPage, through: Callable[[], None], tmp_path: Path) -> None:
    click(page.buttons["What if"])
    section = page.what_if
    assert section.texts()["rates"].split() == ["12.5", "25", "50"]
    for key, text in (("ranges", "2, 4"), ("rates", "25 50 400"), ("bits", "8"), ("filters", "none")):
        typed(section.fields[key], text)
    click(section.go)
    through()
    assert section.in_front == TABLE
    assert "5 tried, 2 refused" in section.said.toolTip()
    rows = section.table.rows_model.rows
    assert rows[0].texts[0] == "in hand: ±4 g, 12 bits, 50 Hz"
    assert [row.texts[2] for row in rows].index("refused") == 5
    assert section.table.isColumnHidden(ANEW)
    score = study.bench.session.results().score
    assert rows[0].texts[2] == next(cell.text for cell in score.cells if cell.name == "sensitivity")

    click_row(page, "±4 g, 8 bits, 400 Hz")
    assert "say nothing about 400 Hz" in section.said.toolTip()
    assert study.bench.session.study.front_end == FrontEnd()
    click_row(page, "±2 g, 8 bits, 25 Hz")
    through()
    assert study.bench.session.study.front_end == FrontEnd(2.0, 8, 25.0)
    assert rows != section.table.rows_model.rows
    assert section.table.rows_model.rows[row_of(page, "±2 g, 8 bits, 25 Hz")].texts[0].startswith("in hand: ")
    assert not section.stale

    study.bench.choose("impact_g", 2.4)
    assert section.stale
    assert "run again" in section.said.toolTip()
    study.bench.undo()
    assert not section.stale
    page.copy_text()
    assert QGuiApplication.clipboard().text().startswith("part\tfilter\tsensitivity")
    study.device_front_end.what_if.save(tmp_path / "parts.csv")
    assert len(list(csv.reader((tmp_path / "parts.csv").read_text().splitlines()))) == 8


def test_what_can_not_be_read_is_said_and_nothing_runs(study: Program, page: FrontEndPage) -> None:
    click(page.buttons["What if"])
    typed(page.what_if.fields["bits"], "7")
    QTest.keyClick(page.what_if.fields["bits"], Qt.Key.Key_Return)
    assert "7 is no width" in page.what_if.said.toolTip()
    assert page.what_if.in_front == LISTS
    assert not page.what_if.working


def test_a_run_is_called_off(study: Program, page: FrontEndPage, through: Callable[[], None]) -> None:
    click(page.buttons["What if"])
    click(page.what_if.go)
    assert page.what_if.go.text() == "Stop"
    click(page.what_if.go)
    through()
    assert page.what_if.go.text() == "Run"
    assert "Called off" in page.what_if.said.toolTip()
    assert page.what_if.view is None


def test_a_filter_is_said_to_be_left_out_of_the_score(study: Program, page: FrontEndPage,
                                                      through: Callable[[], None]) -> None:
    click(page.buttons["What if"])
    for key, text in (("ranges", "4"), ("rates", "25"), ("bits", "12"), ("filters", "10")):
        typed(page.what_if.fields[key], text)
    QTest.keyClick(page.what_if.fields["filters"], Qt.Key.Key_Return)
    through()
    click_row(page, "±4 g, 12 bits, 25 Hz")
    assert "without the part's filter of 10 Hz" in study.window.status.message.toolTip()
    assert study.bench.session.study.front_end == FrontEnd(4.0, 12, 25.0)


def test_ranges_that_switch_are_compared_and_go_stale(study: Program, page: FrontEndPage,
                                                      through: Callable[[], None]) -> None:
    click(page.buttons["Ranges"])
    section = page.ranges
    click(section.go)
    through()
    assert section.in_front == "Scores"
    assert [row.texts[0] for row in section.scores.rows_model.rows] == ["switched", "watch range kept",
                                                                        "high range kept"]
    assert "One stream to the rule: ±8 g, 14 bits" in section.said.toolTip()
    section.show_place("Numbers")
    box = section.form.fields["ranges.high_g"]
    typed(box, "1")
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert section.stale
    click(section.go)
    through()
    assert "not above the watch range" in section.said.toolTip()
    page.copy_text()
    assert "switched" in QGuiApplication.clipboard().text()


def test_every_section_has_a_name_for_who_can_not_see_it(page: FrontEndPage) -> None:
    for title, button in page.buttons.items():
        click(button)
        assert page.in_front == title
        front = page.places.currentWidget()
        assert front is not None
        assert front.accessibleName()
    for field in page.what_if.fields.values():
        assert field.accessibleName()
        assert field.accessibleDescription()
