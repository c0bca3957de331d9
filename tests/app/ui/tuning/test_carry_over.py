"""Carry over…: the open study on its parts and beside other files, with real events."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog

from app.study.results import carry_over
from app.study.results.carry_over import within
from tests.app.cli.tune_made import everybody, soft_falls, written
from tests.app.mouse import click, until_active, wait
from tests.app.study_made import session_of


def placed(made):
    """The people's second trials were worn at the waist."""
    return [(replace(item, about=replace(item.about, placement="waist" if "2" in item.name else "wrist")), samples)
            for item, samples in made]


@pytest.fixture
def carrying(program, settled):
    program.bench.take_session(session_of(placed(everybody())))
    settled()
    until_active(program.window)
    QTest.keyClick(program.window, Qt.Key.Key_Y, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier)
    assert program.carrying.dialog.isVisible()
    return program.carrying


def rows(carrying):
    return [row.texts for row in carrying.panel.table.rows_model.rows]


def test_a_study_stands_in_its_parts_and_follows_the_sliders(qtbot, carrying):
    qtbot.waitUntil(lambda: len(rows(carrying)) == 3, timeout=20_000)
    whole, waist, wrist = rows(carrying)
    assert waist[0].endswith(", waist")
    assert wrist[0].endswith(", wrist")
    m = carrying.bench.session.found().score.matrix
    assert whole[3] == f"{m.tp} of {m.tp + m.fn}"
    caught = [int(row[3].split()[0]) for row in (waist, wrist)]
    assert sum(caught) == m.tp
    assert m.tp > 0
    carrying.bench.choose("impact_g", 7.0)
    qtbot.waitUntil(lambda: rows(carrying)[0][3].startswith("0 of"), timeout=20_000)


def test_other_studies_and_settings_are_added_and_taken_away(qtbot, carrying, tmp_path, monkeypatch):
    qtbot.waitUntil(lambda: len(rows(carrying)) == 3, timeout=20_000)
    other = written(tmp_path / "other", soft_falls())
    other = other.rename(other.with_stem("soft"))
    lax = tmp_path / "lax.json"
    settings = {**carrying.bench.session.study.settings, "impact_g": 1.3}
    lax.write_text(json.dumps({"settings": settings}))
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(other), str(lax)], ""))
    click(carrying.panel.add)
    qtbot.waitUntil(lambda: len(rows(carrying)) > 3, timeout=20_000)
    pairs = [(row[0], row[1]) for row in rows(carrying)]
    own = pairs[0][0]
    assert pairs[:6] == [(own, own), (own, "soft"), (own, "lax"), ("soft", own), ("soft", "soft"), ("soft", "lax")]
    caught = {(row[0], row[1]): row[3] for row in rows(carrying)}
    assert caught["soft", own].startswith("0 of 8")
    assert not caught["soft", "lax"].startswith("0 of")
    click(carrying.panel.clear)
    qtbot.waitUntil(lambda: len(rows(carrying)) == 3, timeout=20_000)


def test_a_file_that_is_none_is_told_and_the_table_stays(qtbot, carrying, tmp_path, monkeypatch):
    qtbot.waitUntil(lambda: len(rows(carrying)) == 3, timeout=20_000)
    (tmp_path / "bad.json").write_text('{"settings": 3}')
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(tmp_path / "bad.json")], ""))
    click(carrying.panel.add)
    qtbot.waitUntil(carrying.panel.fault.isVisible, timeout=20_000)
    assert "bad.json" in carrying.panel.fault.text()
    assert len(rows(carrying)) == 3
    assert carrying.paths == []
    wait(1)


def test_parts_by_rate_and_by_node(program):
    made = everybody()
    session = session_of(made)
    assert within("one kind", session) == []
    name = made[0][0].name
    session.library[name] = replace(session.library[name], rate_hz=25.0)
    assert [cell.study for cell in within("two rates", session)] == ["two rates, 25 Hz", "two rates, 50 Hz"]
    nodes = session_of([(replace(item, group=item.name.rsplit(" ", 1)[0] if "trip" in item.name else "",
                                 about=replace(item.about, node="left" if "1" in item.name[3:] else "right")), samples)
                        for item, samples in everybody()])
    parts = within("nodes", nodes)
    assert [cell.study for cell in parts] == ["nodes, node right"]
    whole = carry_over.beside(nodes, [])[0].figures["matrix"]
    assert parts[0].figures["matrix"] != whole
