"""What every chart does: the mouse and the keys, zooming, both themes, paper; and none is drawn before it is seen."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QColor, QContextMenuEvent, QImage, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from app.ui.charts.chart import PERCENT, Chart, numbers
from app.ui.charts.histogram import Bars, Histogram
from app.ui.theme.colours import DARK, LIGHT
from app.ui.theme.stylesheet import palette
from data.problem import Problem
from tests.app.mouse import click_thing, point_at

DEVICES = Bars("sensitivity", (0.7, 0.75, 0.8, 0.85, 0.9), (2, 0, 9, 4), (False, False, True, True),
               (("nominal", 0.83), ("limit", 0.8)))


class Cells(Chart):
    """A map of 3 × 2 places, one of them without a value."""

    def places(self):
        return [((x, y), x, y) for y in range(2) for x in range(3)]

    def draw(self, plot, theme):
        plot.show_range((-0.5, 2.5), (-0.5, 1.5))
        plot.cells(np.array([[0.0, 0.5, 1.0], [1.0, np.nan, 0.0]]), (0.0, 1.0),
                   np.array([[0, 0, 255], [255, 255, 0]], dtype=np.uint8), [(0.0, "least"), (1.0, "most")])


def shown(qtbot, chart: Chart) -> Chart:
    qtbot.addWidget(chart)
    chart.resize(360, 240)
    chart.show()
    qtbot.waitExposed(chart)
    QApplication.processEvents()
    return chart


@pytest.fixture
def chart(qtbot) -> Histogram:
    made = Histogram("Devices by the figure")
    made.show_bars(DEVICES)
    return shown(qtbot, made)


def colours_of(image: QImage) -> set[str]:
    return {image.pixelColor(x, y).name() for x in range(image.width()) for y in range(image.height())}


def turn_wheel(chart: Chart, place: QPointF, turns: int) -> None:
    plot = chart.plot.viewport()
    QApplication.sendEvent(plot, QWheelEvent(place, plot.mapToGlobal(place), QPoint(), QPoint(0, 120 * turns),
                                             Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier,
                                             Qt.ScrollPhase.NoScrollPhase, False))
    QApplication.processEvents()


def test_places_for_charts_are_made_without_loading_the_library_that_draws_them():
    places = "analysis.map_and_curve", "device.window", "importing.preview", "score.latency", "tuning.dialog"
    words = "import sys, {}; print('pyqtgraph' in sys.modules)".format(", ".join(f"app.ui.{one}" for one in places))
    assert subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True).stdout == "False\n"


def test_a_chart_is_drawn_when_it_is_shown_and_not_while_it_is_hidden(qtbot, monkeypatch):
    drawn = []
    monkeypatch.setattr(Histogram, "draw", lambda self, plot, theme: drawn.append(self.bars))
    made = Histogram("Devices by the figure")
    made.show_bars(DEVICES)
    made.setPalette(palette(DARK))
    assert (made.plot, drawn) == (None, [])
    shown(qtbot, made)
    assert drawn == [DEVICES]
    made.hide()
    made.show_bars(None)
    made.setPalette(palette(LIGHT))
    assert drawn == [DEVICES]
    made.show()
    assert drawn == [DEVICES, None]


def test_a_click_asks_for_what_is_there_and_a_move_tells_it(chart):
    asked, told = [], []
    chart.asked.connect(asked.append)
    chart.hovered.connect(told.append)
    point_at(chart, chart.place_of(3))
    click_thing(chart, 2)
    assert (asked, told) == ([2], [3, 2])
    click_thing(chart, 1)  # an empty bar
    assert asked == [2]


def test_keys_walk_and_enter_asks(chart):
    asked = []
    chart.asked.connect(asked.append)
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Return):
        QTest.keyClick(chart, key)
    assert asked == [2]


@pytest.mark.parametrize("zoom", ["wheel", "key"])
def test_zoomed_places_are_still_found_and_0_shows_all_again(chart, zoom):
    before = chart.place_of(3)
    if zoom == "wheel":
        turn_wheel(chart, chart.place_of(2), 3)
    else:
        QTest.keyClick(chart, Qt.Key.Key_Plus)
    assert chart.place_of(3).x() > before.x() + 5
    point_at(chart, chart.place_of(2))
    assert chart.on == 2
    QTest.keyClick(chart, Qt.Key.Key_0)
    assert chart.place_of(3) == before


def test_nothing_lies_beyond_what_all_shows(chart):
    before = chart.place_of(3)
    turn_wheel(chart, chart.place_of(2), -5)
    assert (chart.place_of(3) - before).manhattanLength() < 1e-6


def test_its_menu_has_our_words_only(chart):
    assert [action.text() for action in chart.actions()] == ["Show all\t0"]
    place = chart.rect().center()
    QTest.mouseClick(chart.plot.viewport(), Qt.MouseButton.RightButton, Qt.KeyboardModifier.NoModifier, place)
    QApplication.processEvents()
    assert QApplication.activePopupWidget() is None, "the library's own"
    seen = []

    def look() -> None:
        menu = QApplication.activePopupWidget()
        seen.extend(action.text() for action in menu.actions())
        menu.close()

    QTimer.singleShot(0, look)  # the menu runs until it is closed
    event = QContextMenuEvent(QContextMenuEvent.Reason.Mouse, place, chart.mapToGlobal(place))
    QApplication.sendEvent(chart.plot.viewport(), event)
    assert seen == ["Show all\t0"]


def test_both_themes_are_drawn_in_their_own_colours(chart):
    for theme, other in ((LIGHT, DARK), (DARK, LIGHT)):
        chart.setPalette(palette(theme))
        found = colours_of(chart.grab().toImage())
        assert {theme.panel, theme.hairline, theme.touch, theme.wrong} <= found
        assert not {other.panel, other.touch, other.wrong} & found


def test_a_grid_is_opaque_and_words_stand_at_both_ends_of_an_axis(chart):
    marks = chart.plot.rulers[0].marks()
    assert [words for _, words in marks] == ["0.70", "0.75", "0.80", "0.85", "0.90"]
    assert [(value, words) for value, words in numbers(0, 0.31, 300, 60, PERCENT)] == [
        (0.0, "0\u00a0%"), (0.1, "10\u00a0%"), (0.2, "20\u00a0%"), (0.3, "30\u00a0%")]


def test_where_there_is_no_value_it_is_hatched_and_a_bar_says_what_a_colour_is(qtbot):
    cells = shown(qtbot, Cells("Cells"))
    image = cells.grab().toImage()
    around = cells.place_of((1, 1)).toPoint()
    found = {image.pixelColor(around.x() + x, around.y() + y).name() for x in range(-8, 9) for y in range(-8, 9)}
    assert {LIGHT.frame, LIGHT.panel} <= found
    for place, colour in (((2, 0), "#ffff00"), ((0, 0), "#0000ff")):
        assert image.pixelColor(cells.place_of(place).toPoint()).name() == colour
    assert cells.plot.bar.isVisible()


def test_a_stale_chart_is_faint(chart):
    full = chart.grab().toImage()
    chart.show_stale(True)
    faint = chart.grab().toImage()
    assert LIGHT.touch in colours_of(full)
    assert LIGHT.touch not in colours_of(faint)
    chart.show_stale(False)
    assert chart.grab().toImage() == full


def test_paper_is_light_and_says_what_it_is_of_whatever_the_window_looks_like(chart, tmp_path):
    chart.setPalette(palette(DARK))
    QTest.keyClick(chart, Qt.Key.Key_Plus)
    chart.save(tmp_path / "bars.svg")
    chart.save(tmp_path / "bars.png")
    text = (tmp_path / "bars.svg").read_text()
    for words in ("sensitivity, devices", "nominal", "limit", "0.80", "Devices by the figure"):
        assert words in text
    image = QImage(str(tmp_path / "bars.png"))
    assert image.pixelColor(0, 0) == QColor(LIGHT.panel)
    assert {LIGHT.touch, LIGHT.wrong} <= colours_of(image)


def test_a_chart_that_was_never_shown_is_printed_too(qtbot, tmp_path):
    made = Histogram("Devices by the figure")
    qtbot.addWidget(made)
    made.show_bars(DEVICES)
    made.save(tmp_path / "bars.svg")
    assert "sensitivity, devices" in (tmp_path / "bars.svg").read_text()
    for kind in ("svg", "png"):
        with pytest.raises(Problem, match="could not be written"):
            made.save(tmp_path / "nowhere" / f"bars.{kind}")
