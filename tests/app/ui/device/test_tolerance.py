"""Many devices over a study: by command, and in the window with real events."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from app.__main__ import main
from app.formatting import MINUS
from app.study import actions
from app.study.device.material import motion_of
from app.study.device.tolerance import FIGURE_WORDS, as_csv, as_text, course_of, key_of, plain, run
from app.study.recordings.device_signal import as_worn, in_g
from app.study.session import Session
from app.ui.device.tolerance import DEVICES, DRIVERS, EVENTS, NOT_RUN, SPREAD, ToleranceTopic
from app.ui.device.topic import NUMBERS, STALE
from app.ui.widgets.table import Row, RowsTable
from data.problem import Problem
from data.recordings.model import Calibration, Label, Stretch, Trim
from detect.device.spread.spread import BOUNDS as BOUND_ROWS
from detect.rule.front_end import FrontEnd, to_counts
from detect.scoring.score import OUTCOMES
from tests.app.mouse import click, point_at, until_active
from tests.app.study_made import FALL, one, session_of, story, walk

RUN_S = 60_000


def people() -> Session:
    """Falls and flops on either side of the impact threshold, walks, and an alarm in an hour that nobody labelled."""
    made = [one(f"W{i:02d} trip 1", story(impact_g=1.9 + 0.03 * i), [FALL]) for i in range(6)]
    made += [one(f"W{i:02d} flop 1", story(impact_g=1.97 + 0.02 * i), [Label("other", "flop", None, None)])
             for i in range(3)]
    made.append(one("W01 walk 1", walk(), [Label("other", "walk", None, None)]))
    made.append(one("W01 day 1", story(seconds=60), [], "free-living"))
    session = session_of(made)
    return with_numbers(session, devices=20, alone=4, limit=0.3)


def with_numbers(session: Session, **numbers: object) -> Session:
    study = session.study
    for name, value in numbers.items():
        study = actions.set_device_value(study, f"spread.{name}", value)
    session.act(study, "numbers")
    return session


def came_of(session: Session):
    return run(session.study, session.evaluated()[:3])


@pytest.fixture(scope="module")
def view():
    return came_of(people())


# What is put to the devices


def test_motion_is_what_the_rule_sees_before_it_is_counted():
    """Another rate, a gap, ends trimmed, a calibration, counts in place of g: counted, it is the study's own."""
    session = people()
    items = {item.name: item for item in session.study.items}
    slow = one("W09 walk 1", walk(rate_hz=40.0), [Label("other", "walk", None, None)], rate_hz=40.0)
    gap = one("W09 walk 2", walk(), [Label("other", "walk", None, None)])
    broken = replace(gap[1], stretches=(Stretch(0, 0.0, 0.02), Stretch(500, 30.0, 0.02)))
    raw = one("W09 walk 3", walk(), [Label("other", "walk", None, None)])
    counted = replace(raw[1], samples=to_counts(raw[1].samples, session.study.front_end)[0], unit="counts")
    more = [(slow[0], slow[1]), (gap[0], broken), (raw[0], counted)]
    worn = replace(items["W00 trip 1"], trim=Trim(1.0, 0.5),
                   calibration=Calibration((0.01, -0.02, 0.03), (1.01, 0.99, 1.0), "by hand", 0.1, 0.0, 6))
    study = session.study.with_item(worn)
    session.library.update({item.name: recording for item, recording in more})
    session.act(actions.add_items(study, [item for item, _ in more]), "more")
    _, _, prepared, _ = session.evaluated()
    motion, recording_of = motion_of(session.study, prepared)
    counts = np.concatenate([seen.counts for seen in prepared.seen])
    assert np.array_equal(to_counts(motion.g.T.copy(), session.study.front_end)[0], counts)
    assert len(recording_of) == len(prepared.names) + 1
    assert motion.first.tolist() == prepared.engine.corpus.stretch_first.tolist()
    assert [len(piece) for piece in in_g(as_worn(slow[0], slow[1]), FrontEnd(), 1.0)] == [1000]


def test_without_tolerances_the_devices_have_the_studys_own_score():
    session = with_numbers(people(), devices=3, **{row.key.removeprefix("spread."): 0 for row in BOUND_ROWS})
    view, score = came_of(session), session.found().score
    assert (view.found.outcomes.outcome == score.outcome).all()
    assert (view.found.outcomes.unlabelled == score.unlabelled[1]).all()
    assert view.flips == ()
    assert view.spread["youden_j"].quantiles == (view.spread["youden_j"].nominal,) * 5
    assert any("Every bound is zero" in one for one in view.remarks)


def test_a_run_says_how_many_meet_the_limit_and_what_flips(view):
    assert view.devices == 20
    assert view.flips
    row = view.flips[0]
    nominal = OUTCOMES[int(view.found.nominal.outcome[0, row.event])]
    assert row.nominal == nominal
    assert row.devices == np.count_nonzero(view.found.outcomes.outcome[:, row.event]
                                           != view.found.nominal.outcome[0, row.event])
    assert {flip.event for flip in view.flips_of(view.worst[0])} <= {flip.event for flip in view.flips}
    met = np.count_nonzero(view.found.outcomes.figure("youden_j") >= 0.3 - 1e-9)
    assert view.share.value == met / 20
    assert view.headline.startswith(f"{100 * met / 20:.1f}")


def test_the_tables_hold_every_figure_driver_and_device(view):
    text = as_text(view)
    for words in (*FIGURE_WORDS.values(), "zero-g offset", "clock", view.flips[0].recording, "seed 0", "worst device"):
        assert words in text
    rows = list(csv.DictReader(as_csv(view).splitlines()))
    assert len(rows) == 20
    assert float(rows[3]["youden_j"]) == pytest.approx(view.found.outcomes.figure("youden_j")[3])
    assert float(rows[3]["offset_x [mg]"]) == pytest.approx(view.found.devices.values[3, 0])
    assert json.dumps(plain(view), allow_nan=False)


def test_without_labels_there_is_nothing_to_score():
    session = session_of([one("W01 walk 1", walk(), [])])
    with pytest.raises(Problem, match="no data") as problem:
        came_of(with_numbers(session, devices=2, alone=0))
    assert problem.value.remedy


def test_without_falls_sensitivity_has_no_data_and_specificity_has():
    session = session_of([one("W01 walk 1", walk(), [Label("other", "walk", None, None)])])
    view = came_of(with_numbers(session, devices=4, alone=1))
    assert view.spread["sensitivity"] is None
    assert view.spread["youden_j"] is None
    assert view.spread["specificity"].nominal == 1
    assert view.worst == ()
    assert view.share is None
    assert "no data in 4 devices" in view.headline
    assert "No fall is labelled: sensitivity and J have no data." in view.remarks
    assert plain(view)["figures"]["sensitivity"] is None
    assert "no data" in as_text(view)


def test_what_a_run_depends_on_makes_another_key():
    session = people()
    before = key_of(session.study)
    assert key_of(with_numbers(people(), limit=0.3).study)[1:] == before[1:]
    for study in (actions.set_value(session.study, "impact_g", 2.1),
                  actions.set_device_value(session.study, "spread.clock_pct", 1.0),
                  actions.set_front_end(session.study, FrontEnd(8.0, 12, 50.0)),
                  actions.remove_items(session.study, ["W01 walk 1"])):
        assert key_of(study) != before
    assert key_of(actions.set_device_value(session.study, "current.running_ua", 7.0)) == before
    assert key_of(actions.set_device_value(session.study, "digital.low_pass", "off")) != before


def test_the_noise_of_a_device_goes_through_the_part_s_own_low_pass():
    """Half the rate goes with each device's clock; without a low-pass it is the part's full bandwidth."""
    session = people()
    made, study = session.evaluated()[:3], session.study
    assert course_of(study, made).noise_corner_hz is None
    assert course_of(actions.set_device_value(study, "digital.low_pass", "off"), made).noise_corner_hz == 1000
    analogue = actions.set_device_value(study, "part.kind", "analogue")
    assert course_of(analogue, made).noise_corner_hz == pytest.approx(22.61, abs=0.01), "1/(2π · 32 kΩ · 220 nF)"


# By command


@pytest.fixture
def saved(read_study) -> Path:
    return read_study


def test_the_command_tells_the_same_whoever_works(saved, tmp_path, capsys):
    words = ["device", "tolerance", str(saved), "--devices", "7", "--seed", "3", "--limit", "sensitivity=0.5",
             "--set", "spread.alone=2", "spread.offset_mg=400", "--json"]
    answers = []
    for workers in ("1", "2"):
        assert main([*words, "--workers", workers, "--csv", str(tmp_path / f"{workers}.csv")]) == 0
        answers.append(capsys.readouterr().out)
    assert answers[0] == answers[1]
    assert (tmp_path / "1.csv").read_bytes() == (tmp_path / "2.csv").read_bytes()
    said = json.loads(answers[0])
    assert (said["devices"], said["seed"], said["called_off"]) == (7, 3, False)
    assert said["limit"]["figure"] == "sensitivity"
    assert said["figures"]["sensitivity"]["nominal"] == 1.0
    assert said["bounds"]["spread.offset_mg"] == 400
    assert {one["tolerance"] for one in said["drivers"]} == set(said["tolerances"]) - {"converter"}
    assert "flatter" in said["caution"]


def test_the_command_speaks_in_tables(saved, capsys):
    assert main(["device", "tolerance", str(saved), "--devices", "3", "--workers", "1", "--set", "spread.alone=1"]) == 0
    said = capsys.readouterr().out
    for words in ("of 3 devices have Youden's J ≥ 0.800", "zero-g offset", "worst device: number", "±50"):
        assert words in said


@pytest.mark.parametrize(("words", "said"), [
    (["--devices", "0"], "spread.devices = 0: is outside 1 … 100000"),
    (["--devices", "many"], "is not a finite number"),
    (["--set", "spread.offset_mg=-5"], "spread.offset_mg = -5: is outside 0 … 1000 mg"),
    (["--set", "spread.wobble=1"], "is not a number of the device"),
    (["--limit", "luck=1"], "is not one of the choices"),
    (["--limit", "0.8"], "has no value"),
    (["--seed", "-1"], "outside 0"),
])
def test_the_command_refuses_what_can_not_be_in_a_sentence(saved, capsys, words, said):
    assert main(["device", "tolerance", str(saved), *words]) == 2
    told = capsys.readouterr().err
    assert said in told.replace(".0:", ":")
    assert "Traceback" not in told


# The page alone


@pytest.fixture
def shown(qtbot, view) -> ToleranceTopic:
    page = ToleranceTopic()
    qtbot.addWidget(page)
    page.resize(900, 500)
    page.show_view(view)
    page.show_place(SPREAD)
    page.show()
    until_active(page)
    return page


def choose(table: RowsTable, row: int) -> None:
    place = table.visualRect(table.rows_model.index(row, 0)).center()
    QTest.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=place)


def test_each_section_has_its_rows(shown):
    view = shown.view
    assert sum(shown.spread.chart.bars.counts) == 20
    assert len(shown.spread.table.rows_model.rows) == len(FIGURE_WORDS)
    for title, table, rows in ((DRIVERS, shown.drivers.table, 10), (EVENTS, shown.events, len(view.flips)),
                               (DEVICES, shown.devices.drawn, 34)):
        click(shown.buttons[title])
        assert table.isVisible()
        assert len(table.rows_model.rows) == rows


def test_a_click_on_a_figure_draws_it(shown):
    choose(shown.spread.table, 1)
    assert shown.spread.figure == "sensitivity"
    assert shown.spread.chart.bars.title == "sensitivity"
    assert [words for words, _ in shown.spread.chart.bars.lines] == ["nominal"]


def test_keys_walk_along_the_bars_and_the_readout_tells_each(shown):
    chart = shown.spread.chart
    QTest.keyClick(chart, Qt.Key.Key_Right)
    first = chart.on
    assert chart.bars.counts[first]
    assert chart.words(first) == shown.readout.text()
    QTest.keyClick(chart, Qt.Key.Key_Right)
    assert chart.on > first


def test_a_bar_is_under_the_mouse_where_it_stands(shown):
    chart = shown.spread.chart
    for bar, count in enumerate(chart.bars.counts):
        point_at(chart, chart.place_of(bar))
        assert chart.on == (bar if count else None)


def test_another_of_the_worst_devices_can_be_looked_at(shown):
    click(shown.buttons[DEVICES])
    before = shown.devices.drawn.rows_model.as_text()
    QTest.keyClick(shown.devices.which, Qt.Key.Key_Down)
    device = shown.view.worst[1]
    assert shown.devices.which.currentData() == device
    assert shown.devices.drawn.rows_model.as_text() != before
    assert len(shown.devices.events.rows_model.rows) == len(shown.view.flips_of(device))


def test_all_of_it_is_copied_as_text_and_before_a_run_the_numbers(shown, qtbot):
    shown.copy_text()
    assert QGuiApplication.clipboard().text() == as_text(shown.view)
    bare = ToleranceTopic()
    qtbot.addWidget(bare)
    bare.copy_text()
    assert "zero-g offset" in QGuiApplication.clipboard().text()
    assert bare.said.text() == NOT_RUN
    assert not bare.save.isEnabled()


# In the window


@pytest.fixture
def page(program, settled) -> ToleranceTopic:
    program.bench.take_session(people())
    settled()
    program.device.tolerance.workers = 1
    program.device.show()
    program.device.beside.show_topic("Tolerance")
    QApplication.processEvents()
    return program.device.tolerance.topic


def test_drivers_fit_beside_the_topics_and_what_is_longer_goes_on_below(program, page):
    short = ("data rate (clock)", "0.147", f"{MINUS}0.073", "0.083 at clock = +5", "clock", "+0.20 (+0.10 – +0.49)",
             "0.10, with others 0.89 (0.56 – 1.48)")
    long = (*short[:3], "0.000 at temperature = +20, drift_x = +0.5, gain_drift_x = +0.02",
            "size of drift_y × temperature", *short[5:])
    click(page.buttons[DRIVERS])
    table = page.drivers.table
    table.show_rows([Row(short, 0), Row(long, 1)])
    QApplication.processEvents()
    assert page.window().width() <= 1280
    assert table.horizontalScrollBar().maximum() == 0
    assert table.rowHeight(1) >= 2 * table.fontMetrics().height()


def at_rest(qtbot, program) -> None:
    controller = program.device.tolerance
    qtbot.waitUntil(lambda: controller.jobs.at_rest and not controller.topic.working, timeout=RUN_S)


def test_a_run_is_shown_opens_recordings_is_saved_and_stale_when_things_move(qtbot, program, page, settled, tmp_path,
                                                                             monkeypatch):
    page.asked.emit("spread.offset_mg", -3.0)
    assert "outside" in page.form.refusal.text()
    assert program.bench.session.study.device.number("spread.offset_mg") == 50
    assert page.in_front == NUMBERS
    click(page.go)
    assert page.working
    at_rest(qtbot, program)
    assert page.in_front == SPREAD
    assert "of 20 devices have Youden's J ≥ 0.300" in page.said.text()

    click(page.buttons[DEVICES])
    choose(page.devices.events, 0)
    assert program.window.recordings.current == page.devices.events.rows_model.rows[0].of.recording

    path = tmp_path / "devices"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    click(page.save)
    assert path.with_suffix(".csv").read_text(encoding="utf-8") == as_csv(page.view)

    assert not page.stale
    program.bench.choose("impact_g", 2.2)
    qtbot.waitUntil(lambda: page.stale)
    assert page.said.text().startswith(STALE)
    program.bench.undo()
    qtbot.waitUntil(lambda: not page.stale)
    page.asked.emit("spread.offset_mg", 10.0)
    qtbot.waitUntil(lambda: page.stale)


def test_a_stopped_run_keeps_what_is_through_and_says_so(qtbot, program, page):
    page.asked.emit("spread.devices", 4000.0)
    click(page.go)
    assert page.go.text() == "Stop"
    qtbot.waitUntil(lambda: page.said.text().split()[1] not in ("0", "1"), timeout=RUN_S)
    click(page.go)
    at_rest(qtbot, program)
    assert 0 < page.view.devices < 4000
    assert "Cancelled after" in page.remark.text()
    assert page.go.text() == "Run"


def test_a_study_without_labels_or_recordings_is_refused_in_a_sentence(program, page, qtbot, settled):
    program.bench.take_session(session_of([one("W01 walk 1", walk(), [])]))
    settled()
    click(page.go)
    at_rest(qtbot, program)
    assert "no data" in page.said.text()
    program.bench.take_session(Session())
    settled()
    click(page.go)
    assert "no recordings" in page.said.text()
