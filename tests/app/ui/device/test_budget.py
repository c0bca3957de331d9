"""The budget page driven by real events, and `plumbfall device budget`: the same figures, live, with every reason."""

from __future__ import annotations

import csv
import json

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox

from app.__main__ import main
from app.study import actions
from app.study.device.budget import (
    DUTIES,
    RATES_HZ,
    alarms_of,
    budget_view,
    duty_csv,
    duty_view,
    how_long,
    microamperes,
    plain,
)
from app.study.device.sleep import waking_view
from app.study.report import handover
from app.study.session import Session
from app.study.state import Study
from app.study.storage import study_files
from app.ui.device.budget import CHART, FIGURES, TABLE, BudgetTopic
from app.ui.theme.colours import DARK, LIGHT
from app.ui.widgets.problem_dialog import ProblemsDialog
from detect.device.energy.budget import budget, sent_share
from detect.device.energy.current import WOKEN
from detect.device.quantity_table import device_values
from detect.device.sleep.wake_settings import TIMER
from detect.firmware.header.reader import read_header
from tests.app.mouse import click, point_at, type_into
from tests.app.study_made import made, one, session_of, story

SLEPT_THROUGH = "Asleep for 500 ms: a fall from 0.5 m lasts 319 ms and would be over."


def session_with(**given: object) -> Session:
    return Session(Study(device=device_values({key.replace("__", "."): value for key, value in given.items()})))


@pytest.fixture
def free_living() -> Session:
    """A study with two minutes of free-living time in which the detector alarms once."""
    return session_of([*made()[:-1], one("W01 day 1", np.concatenate([story(seconds=60), story(seconds=60)]), [],
                                         "free-living")])


@pytest.fixture
def page(program, settled, free_living) -> BudgetTopic:
    """The topic in front, of that study."""
    program.bench.take_session(free_living)
    settled()
    program.device.show()
    program.device.beside.show_topic("Battery and radio")
    QApplication.processEvents()
    return program.device.budget.topic


def figures_shown(page: BudgetTopic) -> dict[str, str]:
    return {row.texts[0]: row.texts[1] for row in page.figures.rows_model.rows}


# What the study makes of it


def test_the_alarms_are_the_studys_unlabelled_where_it_has_free_living_time(free_living):
    free_living.results()
    free = free_living.found().score
    assert free.unlabelled[1] > 0
    alarms = alarms_of(free_living)
    assert alarms.per_day == pytest.approx(24 * free.unlabelled[1] / free.unlabelled_hours[1])
    assert alarms.origin.startswith("the study's unlabelled alarms")
    free_living.act(actions.set_device_value(free_living.study, "radio.alarms_from", "as typed"), "typed")
    assert (alarms_of(free_living).per_day, alarms_of(free_living).origin) == (2, "as typed")


def test_without_free_living_time_the_typed_alarms_stand_and_it_is_said():
    alarms = alarms_of(session_with(radio__alarms_per_day=7))
    assert (alarms.per_day, alarms.origin) == (7, "as typed: the study has no free-living time")


@pytest.mark.parametrize(("window_s", "share", "sent"), [(0, 90, 1), (15, 90, 0.1), (6, 90, 0.55), (15, 0, 1)])
def test_alarms_cancelled_in_time_are_not_sent(window_s, share, sent):
    """Presses are spread evenly from 3 s to 9 s: half of them come within 6 s. By hand."""
    given_values = {"life.cancel_s": window_s, "life.others_cancelled_pct": share, "radio.alarms_per_day": 10}
    assert sent_share(device_values(given_values)) == pytest.approx(sent)
    alarms = alarms_of(Session(Study(device=device_values(given_values))))
    assert alarms.sent_per_day == pytest.approx(10 * sent)


def test_the_chart_is_the_budget_at_every_rate_and_duty_cycle():
    study = session_with().study
    view = duty_view(study, 2)
    assert view.mean_ua.shape == (len(DUTIES), len(RATES_HZ))
    column = RATES_HZ.index(50)
    assert view.mean_ua[-1, column] == pytest.approx(budget(study.device, 50, 2).mean_ua)
    assert (np.diff(view.mean_ua, axis=0) > 0).all()
    assert (np.diff(view.mean_ua, axis=1) > 0).all()
    slow = duty_view(session_with(bus__kind="I²C standard").study, 2)
    assert np.isnan(slow.days[:, -1]).all()
    lines = duty_csv(slow)
    assert lines[0] == ["duty_cycle", "rate_hz", "mean_ua", "days"]
    assert lines[len(RATES_HZ)] == ["0.01", "1600", "", ""]
    assert float(lines[1][3]) == pytest.approx(slow.days[0, 0])


def test_a_device_that_is_refused_has_no_figures_but_reasons():
    view = budget_view(session_with(battery__charge_pct=10))
    assert (view.found, view.rows) == (None, ())
    assert [one.refused for one in view.against] == [True]
    assert plain(session_with(battery__charge_pct=10))["budget"] is None


def test_days_are_said_as_people_say_them():
    assert [how_long(days) for days in (35.46, 1461, float("inf"))] == ["35.5\u00a0days", "4\u00a0years",
                                                                                   "unlimited"]
    assert microamperes(12_345) == "12.35\u00a0mA"


# In the window


def test_a_number_typed_changes_figures_and_headline_at_once_and_undo_takes_it_back(program, page, qtbot):
    before = page.said.text()
    box = page.form.fields["current.running_ua"]
    type_into(box, "500")
    assert program.bench.session.study.device.number("current.running_ua") == 500
    qtbot.waitUntil(lambda: figures_shown(page)["sensor running"] == "500\u00a0µA")
    assert page.said.text() != before
    found = budget_view(program.bench.session).found
    assert microamperes(found.mean_ua) in page.said.text()
    assert found.dominant.name in page.said.text()
    program.bench.undo()
    qtbot.waitUntil(lambda: page.said.text() == before)


def test_a_setting_moved_changes_the_alarms_that_the_radio_sends(program, page, qtbot):
    alarms = figures_shown(page)["alarms a day"]
    assert alarms not in ("0", "2")
    program.bench.choose("impact_g", 15.0)
    qtbot.waitUntil(lambda: figures_shown(page)["alarms a day"] == "0", timeout=10_000)


def test_what_contradicts_itself_is_said_in_red_all_of_it(program, page, qtbot):
    assert not page.remark.isVisible()
    sleeps = page.form.fields["current.sleeps"]
    assert isinstance(sleeps, QComboBox)
    sleeps.setFocus()
    QTest.keyClick(sleeps, Qt.Key.Key_End)
    assert program.bench.session.study.device.text("current.sleeps") == WOKEN
    study = program.bench.session.study
    for key, value in (("wake.line", TIMER), ("wake.timer_asleep_ms", 500)):
        study = actions.set_device_value(study, key, value)
    program.bench.act(study, "a timer")
    qtbot.waitUntil(page.remark.isVisible)
    assert SLEPT_THROUGH in page.remark.text()
    assert page.in_front == FIGURES
    type_into(page.form.fields["battery.charge_pct"], "10")
    qtbot.waitUntil(lambda: "contradict" in page.said.text())
    assert page.figures.rows_model.rowCount() == 0
    assert "Refused: The battery is empty" in page.remark.text()


def test_the_numbers_stand_beside_what_they_come_to(program, page):
    assert page.form.isVisible()
    assert page.figures.isVisible()
    click(page.buttons[CHART])
    assert page.form.isVisible()
    assert page.chart.isVisible()


def test_a_value_out_of_bounds_is_refused_in_words(program, page):
    type_into(page.form.fields["battery.cut_off_pct"], "120")
    assert "outside 0 … 100 %" in page.form.refusal.text()
    assert program.bench.session.study.device.number("battery.cut_off_pct") == 15


def test_the_chart_is_read_by_mouse_and_keys_and_stands_as_a_table(program, page):
    click(page.buttons[CHART])
    chart = page.chart
    assert chart.isVisible()
    chart.setFocus()
    QTest.keyClick(chart, Qt.Key.Key_Right)
    on = chart.on
    assert on == (len(DUTIES) - 1, RATES_HZ.index(50))
    assert "awake 100\u00a0%, 50 Hz" in page.readout.text()
    QTest.keyClick(chart, Qt.Key.Key_Down)
    QTest.keyClick(chart, Qt.Key.Key_Right)
    assert chart.on == (on[0] - 1, on[1] + 1)
    days = how_long(float(chart.view.days[chart.on]))
    assert page.readout.text().endswith(f"{days} · falls lost by sleeping not known")
    point_at(chart, chart.place_of((0, 0)))
    assert chart.on == (0, 0)
    click(page.buttons[TABLE])
    assert page.table.isVisible()
    assert page.table.rows_model.rowCount() == len(DUTIES) * len(RATES_HZ)
    page.copy_text()
    copied = QGuiApplication.clipboard().text()
    assert "mean current\t" in copied
    assert copied.count("\n") > len(DUTIES) * len(RATES_HZ)


def test_the_chart_is_saved(program, page, tmp_path):
    for kind in ("csv", "svg", "png"):
        program.device.budget.save(tmp_path / f"budget.{kind}")
        assert (tmp_path / f"budget.{kind}").stat().st_size > 500
    rows = list(csv.DictReader((tmp_path / "budget.csv").read_text().splitlines()))
    assert len(rows) == len(DUTIES) * len(RATES_HZ)
    program.device.budget.save(tmp_path / "nowhere" / "budget.svg")
    assert [dialog for dialog in program.window.findChildren(ProblemsDialog) if dialog.isVisible()]


def test_the_time_awake_is_taken_from_the_recordings_in_one_step(program, page, qtbot):
    before = program.bench.session.study
    click(page.awake)
    qtbot.waitUntil(lambda: program.device.budget.jobs.at_rest, timeout=20_000)
    device = program.bench.session.study.device
    assert device.text("current.sleeps") == WOKEN
    assert 0 < device.number("current.awake_pct") < 100
    assert device.number("current.wakes_per_hour") > 0
    program.bench.undo()
    assert program.bench.session.study == before


def test_falls_lost_by_sleeping_are_counted_by_themselves_while_the_topic_is_shown(program, page, qtbot, settled):
    """Nobody presses anything: the days that sleeping buys stand beside what it costs."""
    assert "falls lost by sleeping" not in figures_shown(page)
    number = page.form.fields["current.sleeps"]
    number.setCurrentText(WOKEN)
    number.activated.emit(number.currentIndex())
    qtbot.waitUntil(lambda: " of " in figures_shown(page).get("falls lost by sleeping", ""), timeout=20_000)
    slept = waking_view(program.bench.session.study, program.bench.session.evaluated()[:3])
    lost = sum(count for _, count in slept.lost)
    assert figures_shown(page)["falls lost by sleeping"] == f"{lost} of {slept.always.matrix.tp}"
    delay = next(row.texts[2] for row in page.figures.rows_model.rows if row.texts[0] == "impact to station")
    assert "not known" not in delay
    assert not page.working


def test_light_and_dark_show_it(program, page):
    page.show_place(CHART)
    for theme in (LIGHT, DARK):
        program.appearance.choose(theme.name)
        picture = page.chart.grab().toImage()
        colours = {picture.pixelColor(x, y).name() for x in range(0, picture.width(), 3)
                   for y in range(0, picture.height(), 3)}
        assert {theme.touch, theme.hairline} <= colours


# By command


@pytest.fixture
def saved(read_study):
    return read_study


def test_the_command_says_what_the_page_says(saved, capsys):
    assert main(["device", "budget", str(saved), "--set", "current.running_ua=500", "radio.nodes=3", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["given"] == {"current.running_ua": 500, "radio.nodes": 3}
    assert said["budget"]["dominant"] == "sensor running"
    assert sum(one["share"] for one in said["budget"]["consumers"]) == pytest.approx(1)
    assert said["budget"]["bus"]["bits"] == 84
    assert said["budget"]["log"]["record_bytes"] > 1575
    assert (said["refused"], [one["sentence"] for one in said["warnings"]]) == \
        ([], ["The battery is empty after 14.4 days, 30 are wanted."])
    chart = said["over_rate_and_duty_cycle"]
    (here,) = [one for one in chart if (one["duty_cycle"], one["rate_hz"]) == (1, 50)]
    assert here["mean_ua"] == pytest.approx(said["budget"]["mean_ua"])
    assert [one["days"] for one in chart if one["rate_hz"] == 1600][-1] is not None
    assert main(["device", "budget", str(saved)]) == 0
    out = capsys.readouterr().out
    assert "sensor running" in out
    assert "84 bit times" in out


def test_the_command_answers_no_where_the_device_is_refused_and_says_why(saved, capsys):
    assert main(["device", "budget", str(saved), "--set", "bus.kind=I²C standard", "bus.sample_bytes=64",
                 "processor.instructions=1e6", "--json"]) == 1
    said = json.loads(capsys.readouterr().out)
    assert said["budget"] is None
    assert "The processor would run" in said["refused"][0]["sentence"]
    assert main(["device", "budget", str(saved), "--set", "current.sleeps=until woken", "wake.line=timer",
                 "wake.timer_asleep_ms=500"]) == 0
    assert SLEPT_THROUGH in capsys.readouterr().err


def test_the_command_takes_the_time_awake_from_the_recordings(saved, capsys):
    assert main(["device", "budget", str(saved), "--awake-from-recordings", "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["given"]["current.sleeps"] == WOKEN
    assert main(["device", "wake", str(saved), "--json"]) == 0
    parts = json.loads(capsys.readouterr().out)["parts"]
    assert len(parts) == 16
    assert said["budget"]["sleep"]["awake"] == pytest.approx(max(one["awake"] for one in parts), rel=1e-3)


def test_without_samples_nobody_knows_how_long_it_is_awake(tmp_path, capsys):
    study_files.save(Study(), tmp_path / "empty.json")
    assert main(["device", "budget", str(tmp_path / "empty.json"), "--awake-from-recordings"]) == 2
    assert "recordings without samples" in capsys.readouterr().err


def test_an_exported_header_carries_part_budget_and_numbers_and_is_read_as_before(saved, tmp_path, capsys):
    session = Session.opened(saved)
    session.act(actions.set_device_value(session.study, "current.running_ua", 500), "500 µA")
    text = handover.header(session)
    assert text == handover.header(session)
    for words in (" * part: digital, +/-4 g, 12 bits, 50 Hz\n", " * budget: 539",
                  "sensor running takes", "(84 bit times, 210 us a sample)",
                  " *   current.running_ua = 500 uA (set for this study; starts at 180)\n",
                  " *   battery.cut_off_pct = 15 % (typical value, recalled, no source)\n",
                  "warning: The battery is empty after 14.4 days"):
        assert words in text
    read = read_header(text)
    assert (read.settings, read.front_end, read.remarks) == (session.study.settings, session.study.front_end, ())
    other = handover.header(Session.opened(saved))
    crc = [line for line in text.splitlines() if "PLF_IDENTITY_CRC32" in line]
    assert crc == [line for line in other.splitlines() if "PLF_IDENTITY_CRC32" in line]


@pytest.mark.parametrize(("given_value", "why"), [
    ("current.speed=1", "is not a number of the device"), ("current.running_ua=much", "is not a finite number"),
    ("current.running_ua", "has no value"), ("bus.kind=three-wire", "is not one of the choices"),
    ("processor.waits_on=perhaps", "is neither true nor false"), ("battery.charge_pct=101", "outside 0 … 100 %")])
def test_a_number_that_cannot_be_is_refused_in_a_sentence(saved, capsys, given_value, why):
    assert main(["device", "budget", str(saved), "--set", given_value]) == 2
    assert why in capsys.readouterr().err
