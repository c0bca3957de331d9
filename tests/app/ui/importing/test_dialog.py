"""How files are to be read: asked with a preview, suggestions and reasons, by real clicks and keys."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QTextDocumentFragment
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QCheckBox, QComboBox, QLineEdit, QPushButton, QSpinBox, QWidget

from app.study.importing.sources import Remembered
from app.ui.importing.dialog import ImportDialog, RecipePage
from app.ui.widgets.problem_dialog import ProblemsDialog
from data.recipe.recipe import Recipe, read_recipe
from data.recipe.sections import Axes, ColumnNames, FrontEndSection, Units
from tests.app import corpus
from tests.app.conftest import drop
from tests.app.mouse import click, until_active
from tests.data.recordings.test_long_files import long_file


def shown_on(path, qtbot, tmp_path) -> ImportDialog:
    """The dialog over one file of which nothing was said before."""
    dialog = ImportDialog([str(path)], Recipe(), Remembered(tmp_path / "recipes"))
    qtbot.addWidget(dialog)
    dialog.show()
    until_active(dialog)
    return dialog



def write(path: Path, per_g: float = 9.80665, header: str = "t,x,y,z", step: float = 0.02) -> Path:
    """A walk, in m/s² if nothing else is asked."""
    path.parent.mkdir(parents=True, exist_ok=True)
    rows = corpus.walk() * per_g + np.random.default_rng(3).normal(0, 0.003 * per_g, corpus.walk().shape)
    lines = [f"{i * step:.4f},{x:.4f},{y:.4f},{z:.4f}" for i, (x, y, z) in enumerate(rows)]
    path.write_text("\n".join([*([header] if header else []), *lines, f"# {path.name}"]) + "\n")
    return path


@pytest.fixture
def asked(qtbot, tmp_path):
    """The dialog on three files, names and columns that say nothing of units."""
    paths = [str(write(tmp_path / f"{who}_walk_1.csv")) for who in ("W01", "W02", "W03")]
    dialog = ImportDialog(paths, Recipe(), Remembered(tmp_path / "recipes"))
    qtbot.addWidget(dialog)
    dialog.show()
    until_active(dialog)
    return dialog


def follow(dialog: ImportDialog, qtbot) -> None:
    """Wait until the preview has followed what was said."""
    qtbot.waitUntil(lambda: not dialog._wait.isActive(), timeout=5_000)


def choose(box: QComboBox, answer: object) -> None:
    """With the keys, as a person does."""
    box.setFocus()
    at = next(i for i in range(box.count()) if box.itemData(i) == answer)
    while box.currentIndex() != at:
        QTest.keyClick(box, Qt.Key.Key_Down if box.currentIndex() < at else Qt.Key.Key_Up)


def aside(dialog: ImportDialog, field: str) -> str:
    """What stands below a field, as it is read."""
    plain = QTextDocumentFragment.fromHtml(dialog.form._asides[field][0].text())
    return plain.toPlainText()


def take(dialog: ImportDialog, field: str) -> None:
    words, button = dialog.form._asides[field]
    assert words.isVisible()
    click(button)


def test_the_first_rows_stand_as_a_table_with_what_each_column_is_taken_for(asked):
    table = asked.pane.table
    assert [table.horizontalHeaderItem(i).text() for i in range(4)] == ["t\n", "x\n", "y\n", "z\n"]
    assert table.item(0, 0).text() == "0.0000"
    assert asked.pane.problem.text().startswith("Line 1: Nothing says in which unit")
    assert asked.pane.trace.accessibleDescription() == "Can not be read yet"


def test_nothing_is_filled_in_unasked_and_every_suggestion_has_its_reason(asked):
    assert asked.recipe() == Recipe()
    assert aside(asked, "acceleration").startswith("m/s²: at rest |a| is 9.8")
    assert aside(asked, "time").startswith("s: a row comes every 0.02: 50 Hz")
    assert aside(asked, "pattern").startswith("W{person}_walk_1.csv: it fits 3 of 3 names")


def test_every_answer_says_what_it_would_do_to_the_data(asked):
    unit, time = asked.form.acceleration, asked.form.time
    said = {unit.itemData(i): unit.itemText(i) for i in range(unit.count())}
    assert said["g"].startswith("g  –  |a| at rest 9.8")
    assert said["m/s2"].startswith("m/s²  –  |a| at rest 1")
    assert {time.itemData(i): time.itemText(i) for i in range(time.count())}["ms"] == "ms  –  5e+04 Hz"


def test_a_suggestion_taken_changes_the_recipe_and_the_preview_follows(asked):
    take(asked, "acceleration")
    assert asked.recipe().units.acceleration == "m/s2"
    take(asked, "time")
    assert asked.pane.problem.isHidden()
    assert asked.pane.facts.text() == "50 Hz · 30.0 s · |a| at rest 1.00 g"
    assert "50 Hz" in asked.pane.trace.accessibleDescription()
    assert not asked.form._asides["acceleration"][1].isVisible()


def test_answers_by_key_are_followed_and_a_wrong_one_is_told(asked, qtbot):
    choose(asked.form.time, "s")
    choose(asked.form.acceleration, "g")
    follow(asked, qtbot)
    assert "1 g if the unit is m/s2" in asked.pane.problem.text()
    choose(asked.form.acceleration, "m/s2")
    follow(asked, qtbot)
    assert asked.pane.problem.isHidden()
    QTest.keyClicks(asked.form.rates, "49.5")
    follow(asked, qtbot)
    assert asked.recipe().clock.rates_hz == (49.5,)


def test_a_figure_that_is_none_is_told_and_nothing_is_read(asked, qtbot):
    heard = []
    asked.decided.connect(lambda *said: heard.append(said))
    QTest.keyClicks(asked.form.rates, "fast")
    follow(asked, qtbot)
    assert not asked.read.isEnabled()
    click(asked.read)
    assert asked.fault.text().startswith("A nominal rate in Hz")
    assert heard == []
    assert asked.isVisible()


def test_nothing_can_be_imported_before_the_files_can_be_read(asked, qtbot):
    heard = []
    asked.decided.connect(lambda *said: heard.append(said))
    assert not asked.read.isEnabled()
    assert "Nothing says in which unit" in asked.read.toolTip()
    QTest.keyClick(asked.form.rates, Qt.Key.Key_Return)
    assert heard == []
    click(asked.take_all)
    assert asked.read.isEnabled()
    assert asked.read.toolTip() == ""
    choose(asked.form.acceleration, "g")
    follow(asked, qtbot)
    assert not asked.read.isEnabled(), "1 g at rest would be 10 g"


def test_all_suggestions_are_taken_with_one_click_and_enter_reads(asked):
    heard = []
    asked.decided.connect(lambda paths, recipe: heard.append((paths, recipe)))
    click(asked.take_all)
    assert not asked.take_all.isEnabled()
    QTest.keyClick(asked.form.rates, Qt.Key.Key_Return)
    (paths, recipe), = heard
    assert len(paths) == 3
    assert (recipe.units.acceleration, recipe.units.time, recipe.pattern) == ("m/s2", "s", "W{person}_walk_1.csv")


def test_a_pattern_says_what_it_makes_of_the_names(asked, qtbot):
    QTest.keyClicks(asked.form.pattern, "{person}_{activity}_{trial}.csv")
    follow(asked, qtbot)
    assert aside(asked, "pattern") == (
        "W01_walk_1.csv: person W01, activity walk, trial 1. It matches 3 of 3 names.")
    asked.form.pattern.clear()
    QTest.keyClicks(asked.form.pattern, "{persn}.csv")
    follow(asked, qtbot)
    assert asked.fault.text().startswith(
        "The file-name pattern must be a pattern with {person} in place of {persn}")


def test_how_the_sensor_sat_is_said_by_axes_or_by_a_still_stretch_and_drawn(qtbot, tmp_path):
    still = np.tile([-1.0, 0.0, 0.0], (200, 1))  # the sensor's x points down
    corpus.write_csv(tmp_path / "W01.csv", np.vstack([still, corpus.walk(4)[:, [1, 0, 2]] * (-1, 1, 1)]))
    dialog = shown_on(tmp_path / "W01.csv", qtbot, tmp_path)
    axes = dialog.form.axes
    assert axes.figure.accessibleName() == "Assumed, as it is not specified: x points forward, y up and z right."
    assert axes.rest.itemText(1) == "0.0 to 4.0 s: leans by 90°"
    choose(axes.forward, "z")
    follow(dialog, qtbot)
    assert "forward alone needs an upright stretch" in dialog.fault.text()
    choose(axes.rest, axes.rest.itemData(1))
    follow(dialog, qtbot)
    assert dialog.recipe().axes.rotation == pytest.approx((0, 0, 1, -1, 0, 0, 0, -1, 0))
    assert axes.figure.accessibleName() == "The sensor's x points down, y left and z forward."
    assert axes.rest.currentText() == "rotation as in the recipe"
    assert axes.rest.itemText(2) == "0.0 to 4.0 s: leans by 0°"
    assert dialog.shown.recording.samples[50] == pytest.approx([0, 1, 0])
    choose(axes.rest, "")
    follow(dialog, qtbot)
    choose(axes.up, "-x")
    choose(axes.forward, "-y")
    follow(dialog, qtbot)
    assert dialog.recipe().axes == Axes(up="-x", forward="-y")
    assert axes.words.text() == "The sensor's x points down, y back and z left."


def test_sensors_side_by_side_are_suggested_by_their_names_and_read_as_nodes(program, tmp_path, settled):
    g = np.hstack([corpus.walk(10), corpus.walk(10)[:, [1, 0, 2]], corpus.walk(10)]) * 1000
    header = "t," + ",".join(f"{node}_acc_{axis}" for node in ("ankle", "thigh", "trunk") for axis in "xyz")
    rows = [",".join([f"{i / 50:.2f}", *(f"{v:.1f}" for v in row)]) for i, row in enumerate(g)]
    (tmp_path / "walk.csv").write_text("\n".join([header, *rows]) + "\n")
    drop(program.window, tmp_path / "walk.csv")
    settled()
    dialog = dialog_of(program)
    assert aside(dialog, "parts") == ("3 nodes: the header names x, y and z of each, and |a| is alike at rest: "
                                      "ankle, thigh, trunk.")
    take(dialog, "parts")
    assert dialog.form.parts.nodes.text() == "Nodes side by side: ankle, thigh, trunk"
    assert aside(dialog, "acceleration").startswith("mg: at rest |a| is 10")
    click(dialog.form.parts.single)
    QApplication.processEvents()
    dialog._follow()
    assert dialog.recipe().nodes == ()
    click(dialog.take_all)
    click(dialog.read)
    settled()
    items = program.bench.session.study.items
    assert [item.about.node for item in items] == ["ankle", "thigh", "trunk"]
    assert len({item.group for item in items}) == 1


def test_columns_that_part_a_file_are_suggested_by_their_names_and_chosen(asked, qtbot, tmp_path):
    rows = [f"{i / 50:.2f},{x:.3f},{y:.3f},{z:.3f},P{1 + i // 500},{1 + i // 250 % 2}"
            for i, (x, y, z) in enumerate(corpus.walk(20))]
    path = tmp_path / "all.csv"
    path.write_text("\n".join(["t_s,x_g,y_g,z_g,subject,trial", *rows]) + "\n")
    dialog = shown_on(path, qtbot, tmp_path)
    assert aside(dialog, "parts").startswith("person in subject, trial in trial: by their names; values so far: 2 in "
                                             "subject, 2 in trial.")
    take(dialog, "parts")
    assert "the first of 4 recordings in the file" in dialog.pane.facts.text()
    boxes = dialog.form.parts.columns
    assert boxes["person"].currentText() == "subject"
    choose(boxes["activity"], "trial")
    follow(dialog, qtbot)
    assert dialog.fault.text().startswith("Choose each column once")
    choose(boxes["trial"], "")
    follow(dialog, qtbot)
    assert (dialog.recipe().split.activity, dialog.recipe().split.trial) == ("trial", "")


def test_without_a_header_columns_are_chosen_by_their_numbers(qtbot, tmp_path):
    path = write(tmp_path / "a.csv", header="")
    dialog = shown_on(path, qtbot, tmp_path)
    assert aside(dialog, "columns").startswith("1, 2, 3, 4: |a| of 2, 3 and 4 stays near 9.8")
    for axis, number in (("time", 1), ("x", 2), ("y", 3), ("z", 4)):
        choose(dialog.form.columns[axis], number)
    follow(dialog, qtbot)
    assert dialog.recipe().columns == ColumnNames(1, 2, 3, 4)
    assert dialog.pane.table.horizontalHeaderItem(2).text() == "3\ny"
    choose(dialog.form.columns["z"], 3)
    follow(dialog, qtbot)
    assert dialog.fault.text() == "Choose four different columns for time, x, y and z."


def test_a_scale_of_its_own_is_asked_only_where_it_is_needed(asked, qtbot):
    assert not asked.form.scale.isVisible()
    choose(asked.form.time, "s")
    choose(asked.form.acceleration, "own")
    follow(asked, qtbot)
    assert asked.form.scale.isVisible()
    asked.form.scale.per_g.clear()
    QTest.keyClicks(asked.form.scale.per_g, "9.80665")
    follow(asked, qtbot)
    assert asked.pane.facts.text() == "50 Hz · 30.0 s · |a| at rest 1.00 g"


def typed(line: QLineEdit, text: str, qtbot, dialog: ImportDialog) -> str:
    """What stands in a field that somebody types slowly into: the preview follows after every key."""
    line.setFocus()
    line.selectAll()
    for letter in text:
        QTest.keyClicks(line, letter)
        follow(dialog, qtbot)
    return line.text()


def waist(folder: Path, name: str = "D01_R01.txt") -> Path:
    """Nine integers a line, no header, each line ended by a semicolon; ±16 g in 13 bits."""
    g = corpus.walk()
    rows = np.round(np.hstack([g * 256, g * 9 + 30, g * 1000])).astype(int)
    path = folder / name
    path.write_text("".join(",".join(f"{value:4d}" for value in row) + ";\n" for row in rows.tolist()))
    return path


@pytest.fixture
def at_waist(qtbot, tmp_path):
    """The dialog on such a file, its columns chosen and its unit counts."""
    dialog = shown_on(waist(tmp_path), qtbot, tmp_path)
    for place, axis in enumerate("xyz", 1):
        choose(dialog.form.columns[axis], place)
    choose(dialog.form.acceleration, "counts")
    choose(dialog.form.stamps, "even")
    follow(dialog, qtbot)
    return dialog


def test_range_bits_and_rate_of_the_sensor_stay_while_they_are_typed_in_any_order(at_waist, qtbot):
    form = at_waist.form
    assert typed(form.scale.range_g, "16", qtbot, at_waist) == "16"
    assert typed(form.scale.front_bits, "13", qtbot, at_waist) == "13"
    assert form.scale.range_g.text() == "16"
    assert at_waist.recipe().front_end is None
    assert typed(form.rates, "50", qtbot, at_waist) == "50"
    assert at_waist.recipe().front_end == FrontEndSection(16, 13, 50)
    assert at_waist.pane.problem.isHidden()
    form.scale.range_g.setFocus()
    form.scale.range_g.setCursorPosition(0)
    QTest.keyClick(form.scale.range_g, Qt.Key.Key_Delete)
    follow(at_waist, qtbot)
    QTest.keyClicks(form.scale.range_g, "1")
    assert form.scale.range_g.text() == "16"


def test_a_suggestion_accepted_leaves_what_is_half_said_of_the_sensor(at_waist, qtbot, tmp_path):
    typed(at_waist.form.scale.range_g, "16", qtbot, at_waist)
    choose(at_waist.form.stamps, "")
    follow(at_waist, qtbot)
    take(at_waist, "stamps")
    assert at_waist.form.scale.range_g.text() == "16"


@pytest.mark.parametrize(("unit", "field", "text"), [
    ("raw", "mg", "0.505"), ("raw", "bits", "12"), ("volts", "nominal", "3.05"), ("own", "per_g", "9.80, 9.80, 9.80")])
def test_a_scale_stays_as_it_is_typed(asked, qtbot, unit, field, text):
    choose(asked.form.acceleration, unit)
    follow(asked, qtbot)
    line = getattr(asked.form.scale, field)
    line.clear()
    line.textEdited.emit("")
    follow(asked, qtbot)
    assert typed(line, text, qtbot, asked) == text


def test_rates_names_and_codes_stay_as_they_are_typed(asked, qtbot):
    form = asked.form
    for line, text in ((form.rates, "40, 50"), (form.falls, "trip, slip"), (form.placement, "left wrist"),
                       (form.missing, "-1, 0.505"), (form.rows.names, "0 = pocket, 4 = ankle")):
        assert typed(line, text, qtbot, asked) == text


@pytest.mark.parametrize("size", [(1040, 700), (880, 540)])
@pytest.mark.parametrize("unit", ["", "raw", "volts", "own", "counts"])
def test_no_field_is_cut_off_beside_the_preview(qtbot, tmp_path, size, unit):
    long_name = waist(tmp_path, "a_name_that_is_as_long_as_some_loggers_make_them_0123456789_0123456789.txt")
    dialog = shown_on(long_name, qtbot, tmp_path)
    dialog.resize(*size)
    choose(dialog.form.acceleration, unit)
    QTest.keyClicks(dialog.form.pattern, "{activity}_as_long_as_some_loggers_make_them_{trial}_0123456789.txt")
    follow(dialog, qtbot)
    QApplication.processEvents()
    assert (dialog.width(), dialog.height()) == size
    pane = dialog.form.parentWidget()
    assert dialog.form.width() <= pane.width()
    for field in dialog.form.findChildren(QWidget):
        if field.isVisible() and isinstance(field, (QLineEdit, QComboBox, QSpinBox, QCheckBox)) \
                and not isinstance(field.parent(), QSpinBox):
            right = field.mapTo(pane, field.rect().topRight()).x()
            assert right < pane.width(), field.accessibleName()
            assert field.width() >= 60, field.accessibleName()


def test_a_front_end_that_is_open_is_told_where_it_is_said(at_waist, qtbot):
    typed(at_waist.form.rates, "50", qtbot, at_waist)
    said = at_waist.pane.remarks.text()
    assert "Sensor range ±g, bits and Nominal rates, Hz" in said
    assert "[front_end]" not in said


def test_a_recipe_is_saved_as_toml_and_taken_again(asked, tmp_path):
    click(asked.take_all)
    asked.save_recipe(tmp_path / "walks.toml")
    assert read_recipe(tmp_path / "walks.toml") == asked.recipe()
    asked._take(Recipe())
    asked.take_recipe(tmp_path / "walks.toml")
    assert asked.recipe().units.acceleration == "m/s2"
    (tmp_path / "broken.toml").write_text("[units]\nacceleration = 'furlongs'\n")
    asked.take_recipe(tmp_path / "broken.toml")
    assert "broken.toml, line 2" in asked.fault.text()
    asked.save_recipe(tmp_path / "gone" / "walks.toml")
    assert "not there any more" in asked.fault.text()


# In the window.


def dialog_of(program) -> ImportDialog:
    (dialog,) = [one for one in program.window.findChildren(ImportDialog) if one.isVisible()]
    return dialog


def rows(program):
    return {row.name: row.outcome for row in program.bench.session.results().rows}


def test_files_dropped_with_something_open_are_asked_about_and_read(program, tmp_path, settled):
    folder = tmp_path / "walks"
    for name in ("sit/U1_R1.csv", "sit/U2_R1.csv", "walk/U1_R2.csv"):
        write(folder / name)
    drop(program.window, folder)
    settled()
    dialog = dialog_of(program)
    assert [dialog.which.itemText(i) for i in range(3)] == ["sit/U1_R1.csv", "sit/U2_R1.csv", "walk/U1_R2.csv"]
    click(dialog.take_all)
    assert dialog.recipe().pattern == "{activity}/U{person}_R{trial}.csv"
    click(dialog.read)
    settled()
    QApplication.processEvents()
    assert not [one for one in program.window.findChildren(ImportDialog) if one.isVisible()]
    assert set(rows(program)) == {"sit/U1_R1", "sit/U2_R1", "walk/U1_R2"}, "and nothing refused is left behind"
    about = program.bench.session.study.item("walk/U1_R2").about
    assert (about.activity, about.person, about.trial) == ("walk", "1", "2")


def test_what_was_said_is_offered_the_next_time_and_not_taken_unasked(program, tmp_path, settled):
    drop(program.window, write(tmp_path / "a.csv"))
    settled()
    click(dialog_of(program).take_all)
    click(dialog_of(program).read)
    settled()
    program.files.reading.recipe = Recipe()
    drop(program.window, write(tmp_path / "b.csv"))
    settled()
    dialog = dialog_of(program)
    assert "from the last import of files with this header" in dialog.memory.text()
    assert dialog.recipe().units.acceleration == "m/s2"
    assert "b" not in rows(program) or rows(program)["b"] == "refused"
    click(dialog.read)
    settled()
    assert rows(program)["b"] != "refused"


def test_the_dialog_stays_open_with_what_could_not_be_read(program, tmp_path, settled):
    good, bad, worse = (write(tmp_path / f"{name}.csv") for name in ("good", "late", "later"))
    for path in (bad, worse):
        lines = path.read_text().splitlines()
        path.write_text("\n".join([*lines[:900], "17.98,abc,1,2", *lines[900:]]) + "\n")
    drop(program.window, good, bad, worse)
    settled()
    dialog = dialog_of(program)
    assert dialog.leave.text() == "Cancel"
    click(dialog.take_all)
    click(dialog.read)
    settled()
    assert dialog.isVisible()
    assert dialog.paths == [str(bad), str(worse)]
    assert dialog.fault.text().startswith('1 recording was read. Not read: late.csv, line 901: "abc"')
    assert dialog.fault.text().endswith(". 1 more file was not read.")
    assert dialog.leave.text() == "Close"
    assert dialog.read.isEnabled()
    assert rows(program)["good"] != "refused"


def test_files_of_another_kind_are_asked_about_afterwards(program, tmp_path, settled):
    write(tmp_path / "a.csv")
    write(tmp_path / "b.csv")
    write(tmp_path / "c.csv", header="stamp,ax,ay,az", step=20, per_g=1000)
    drop(program.window, tmp_path / "a.csv", tmp_path / "b.csv", tmp_path / "c.csv")
    settled()
    dialog = dialog_of(program)
    assert "1 of another kind comes next" in dialog.kind.text()
    click(dialog.take_all)
    click(dialog.read)
    settled()
    assert dialog.isVisible()
    assert dialog.which.currentText() == "c.csv"
    click(dialog.take_all)
    assert (dialog.recipe().units.acceleration, dialog.recipe().units.time) == ("mg", "ms")
    click(dialog.read)
    settled()
    assert all(outcome != "refused" for outcome in rows(program).values())


def test_files_without_the_columns_of_the_last_recipe_are_asked_about(program, tmp_path, settled):
    program.files.reading.recipe = Recipe(columns=ColumnNames("seconds", "x", "y", "z"), units=Units("m/s2", "s"))
    drop(program.window, write(tmp_path / "a.csv"))
    settled()
    dialog = dialog_of(program)
    assert 'Column "seconds" for time does not exist' in dialog.pane.problem.text()
    assert dialog.paths == [str(tmp_path / "a.csv")]


def test_what_nobody_can_settle_is_listed_as_before(program, tmp_path, settled):
    (tmp_path / "empty.csv").write_text("")
    write(tmp_path / "open.csv")
    drop(program.window, tmp_path / "empty.csv", tmp_path / "open.csv")
    settled()
    (listed,) = [one for one in program.window.findChildren(ProblemsDialog) if one.isVisible()]
    assert [one.startswith("empty.csv") for one in listed.sentences()] == [True]
    assert dialog_of(program).paths == [str(tmp_path / "open.csv")]
    assert listed.findChild(QPushButton) is not None


def test_rows_of_two_sensors_are_asked_about_split_or_told_to_be_one(qtbot, tmp_path):
    path = write(tmp_path / "day.csv", 1.0, "t_s,x_g,y_g,z_g")
    head, *rows = path.read_text().splitlines()
    path.write_text("\n".join([head + ",sensor", *(f"{row},{'ankle' if i % 2 else 'wrist'}"
                                                   for i, row in enumerate(rows))]) + "\n")
    dialog = shown_on(path, qtbot, tmp_path)
    assert "Column sensor has 2 values" in dialog.pane.problem.text()
    assert dialog.pane.problem.text().endswith("Split by column.")
    assert aside(dialog, "parts").startswith("node in sensor")
    click(dialog.form.parts.whole)
    follow(dialog, qtbot)
    assert dialog.recipe().one_recording
    assert not dialog.pane.problem.isVisible()


def test_a_long_file_is_read_by_its_rows_of_acceleration_and_its_nodes_get_names(qtbot, tmp_path):
    path = tmp_path / "fall.csv"
    path.write_text(long_file())
    dialog = shown_on(path, qtbot, tmp_path)
    assert aside(dialog, "rows").startswith("Sensor Type is 0: Sensor Type says the quantity of a row")
    take(dialog, "rows")
    assert dialog.form.rows.column.currentData() == "Sensor Type"
    assert dialog.form.rows.values.text() == "0"
    take(dialog, "parts")
    dialog.form.rows.names.setFocus()
    QTest.keyClicks(dialog.form.rows.names, "0 = pocket, 4 = pocket")
    follow(dialog, qtbot)
    assert "Each node needs a name of its own" in dialog.fault.text()
    for _ in range(len("pocket")):
        QTest.keyClick(dialog.form.rows.names, Qt.Key.Key_Backspace)
    QTest.keyClicks(dialog.form.rows.names, "ankle")
    follow(dialog, qtbot)
    assert dialog.recipe().names == (("0", "pocket"), ("4", "ankle"))
    choose(dialog.form.acceleration, "g")
    choose(dialog.form.time, "ms")
    follow(dialog, qtbot)
    assert "the first of 2 recordings in the file" in dialog.pane.facts.text()


def test_what_stands_above_the_table_is_offered_and_chosen_by_hand(qtbot, tmp_path):
    path = tmp_path / "walk.csv"
    path.write_text("% Wearer: W01\n% Worn at: waist\n\n% t,x,y,z\n" + path_rows(write(tmp_path / "other.csv")))
    dialog = shown_on(path, qtbot, tmp_path)
    assert aside(dialog, "preamble").startswith("person in Wearer: by their names; above this file's table Wearer is")
    take(dialog, "preamble")
    assert dialog.recipe().preamble.person == "Wearer"
    choose(dialog.form.preamble.keys["placement"], "Worn at")
    follow(dialog, qtbot)
    assert dialog.recipe().preamble.placement == "Worn at"
    choose(dialog.form.preamble.keys["trial"], "Worn at")
    follow(dialog, qtbot)
    assert "Choose each line above the table once" in dialog.fault.text()


def path_rows(path) -> str:
    """The rows of a file without its header."""
    return path.read_text().partition("\n")[2]


def test_the_dialog_shows_what_a_recipe_can_say(asked):
    click(asked.page)
    (page,) = asked.findChildren(RecipePage)
    assert page.isVisible()
    assert "whole_recordings" in page.text.toPlainText()
    page.close()
