"""Two places with tabs that become one on a narrow window."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication, QLabel, QToolButton

from app.ui.widgets.tabs import NARROW, TabPlaces
from tests.app.mouse import until_active


@pytest.fixture
def places(qtbot) -> TabPlaces:
    made = TabPlaces()
    qtbot.addWidget(made)
    made.pages = {title: QLabel(title) for title in ("Attempts", "Splits", "Side by side", "A and B")}
    for title in ("Attempts", "Splits"):
        made.add_first(made.pages[title], title)
    for title in ("Side by side", "A and B"):
        made.add_second(made.pages[title], title)
    made.resize(NARROW + 100, 200)
    made.show()
    until_active(made)
    return made


def titles(place) -> list[str]:
    return [place.tabText(i) for i in range(place.count())]


def test_a_wide_window_has_two_places_and_a_narrow_one_all_pages_in_one(places):
    assert titles(places.first) == ["Attempts", "Splits"]
    assert titles(places.second) == ["Side by side", "A and B"]
    assert places.second.isVisible()
    places.resize(NARROW - 100, 200)
    assert titles(places.first) == ["Attempts", "Splits", "Side by side", "A and B"]
    assert not places.second.isVisible()
    places.resize(NARROW + 100, 200)
    assert titles(places.second) == ["Side by side", "A and B"]


def test_what_is_in_front_stays_in_front(places):
    places.show_page(places.pages["Splits"])
    places.show_page(places.pages["A and B"])
    assert places.visible(places.pages["Splits"])
    places.resize(NARROW - 100, 200)
    assert places.visible(places.pages["A and B"])
    places.resize(NARROW + 100, 200)
    assert places.visible(places.pages["A and B"])
    assert places.visible(places.pages["Splits"]) or places.visible(places.pages["Attempts"])


def test_tabs_without_room_are_all_there_with_their_whole_titles_under_the_mouse(places):
    for title in ("Breakdown", "Map and curve", "History"):
        places.add_second(QLabel(title), title)
    places.resize(360, 200)
    bar = places.first.tabBar()
    for at in range(bar.count()):
        bar.setCurrentIndex(at)
        QApplication.processEvents()
        assert bar.tabRect(bar.count() - 1).right() < bar.width()
        assert bar.tabToolTip(at) == bar.tabText(at)
    assert not [one for one in bar.findChildren(QToolButton) if one.isVisible()], "no arrows"
