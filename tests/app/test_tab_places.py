"""Two places with tabs that become one on a narrow window."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QLabel

from app.panels.tab_places import NARROW, TabPlaces


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
    qtbot.waitExposed(made)
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


def test_another_page_in_front_is_told(places, qtbot):
    with qtbot.waitSignal(places.page_shown):
        places.first.setCurrentIndex(1)
