"""The settings panel alone: made from the table, moved by mouse, keys, wheel and typing."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from app.ui.settings.panel import GROUPS, SettingsPanel
from app.ui.settings.rows import ChoiceRow, NumberRow, SwitchRow, VectorRow
from app.ui.widgets.slider import grid_step
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import BY_KEY, DEFAULTS, PARAMETERS, Settings, Unit
from tests.app.mouse import click, drag, type_into, until_active, wheel

EVERYTHING_ON = DEFAULTS.with_value("reclined_on", True).with_value("active_on", True)


def show(panel: SettingsPanel, settings: Settings = EVERYTHING_ON, front_end: FrontEnd | None = None,
         mark: Settings | None = None) -> None:
    front_end = front_end or FrontEnd()
    panel.show_settings(settings, rule_of(settings, front_end), front_end, mark)


@pytest.fixture
def panel(qtbot) -> SettingsPanel:
    made = SettingsPanel([("Waist", "from memory")])
    qtbot.addWidget(made)
    show(made)
    made.resize(292, 900)
    made.show()
    until_active(made)
    return made


KINDS = {Unit.SWITCH: SwitchRow, Unit.CHOICE: ChoiceRow, Unit.VECTOR: VectorRow}
NUMBERS = [p.key for p in PARAMETERS if p.unit not in KINDS]


@pytest.mark.parametrize("parameter", PARAMETERS, ids=lambda p: p.key)
def test_every_row_of_the_table_has_its_widgets(panel, parameter):
    row = panel.rows[parameter.key]
    assert isinstance(row, KINDS.get(parameter.unit, NumberRow))
    assert row.isVisible()
    assert row.title.text() == parameter.title
    assert row.toolTip().startswith(parameter.sentence)
    assert row.title.buddy().accessibleName().startswith(row.spoken)


def test_every_stage_of_the_table_has_its_group():
    assert {stage for stage, _, _ in GROUPS} == {p.group for p in PARAMETERS}


def test_no_two_rows_sound_alike(panel):
    spoken = [row.spoken for row in panel.rows.values()]
    assert len(set(spoken)) == len(spoken)


@pytest.mark.parametrize("key", NUMBERS)
def test_a_slider_dragged_by_the_mouse_tells_one_gesture(panel, qtbot, key):
    slider = panel.rows[key].slider
    told: list[tuple[str, float, str]] = []
    panel.slid.connect(lambda *a: told.append(a))
    middle = slider.height() // 2
    drag(slider, QPoint(8, middle), QPoint(slider.width() - 8, middle))
    assert len(told) > 2
    assert {k for k, _, _ in told} == {key}
    assert len({gesture for _, _, gesture in told}) == 1
    values = [value for _, value, _ in told]
    assert values == sorted(values)
    assert values[-1] > (BY_KEY[key].low + BY_KEY[key].high) / 2


def test_two_drags_are_two_gestures(panel):
    slider, told = panel.rows["impact_g"].slider, []
    panel.slid.connect(lambda key, value, gesture: told.append(gesture))
    for start in (10, 40):
        drag(slider, QPoint(start, 10), QPoint(start + 15, 10))
    assert len(set(told)) == 2


@pytest.mark.parametrize("key", NUMBERS)
def test_an_arrow_key_moves_a_slider_far_enough_to_move_the_integer(panel, key):
    told: list[float] = []
    panel.slid.connect(lambda k, value, g: told.append(value))
    for front_end in (FrontEnd(), FrontEnd(16.0, 8, 25.0), FrontEnd(2.0, 16, 400.0)):
        settings = EVERYTHING_ON
        show(panel, settings, front_end)
        slider = panel.rows[key].slider
        slider.setFocus()
        QTest.keyClick(slider, Qt.Key.Key_Right)
        before = rule_of(settings, front_end)
        after = rule_of(settings.with_value(key, told[-1]), front_end)
        assert before != after, (front_end, told)


def test_the_wheel_passes_by_unless_the_slider_has_the_focus(panel):
    slider, told = panel.rows["impact_g"].slider, []
    panel.slid.connect(lambda key, value, gesture: told.append((value, gesture)))
    panel.rows["settle_ms"].slider.setFocus()
    assert not wheel(slider, 1).isAccepted()
    assert told == []
    slider.setFocus()
    wheel(slider, 1)
    wheel(slider, 1)
    assert len(told) == 2
    assert told[0][1] == told[1][1] != ""
    slider._wheel_rest.stop()


def test_the_wheel_passes_by_number_boxes_and_choices_too(panel):
    told = []
    panel.typed.connect(lambda *a: told.append(a))
    panel.chosen.connect(lambda *a: told.append(a))
    panel.rows["settle_ms"].slider.setFocus()
    wheel(panel.rows["impact_g"].box, 1)
    wheel(panel.rows["free_fall_rule"].box, -1)
    assert told == []


@pytest.mark.parametrize(("key", "text", "value"), [
    ("impact_g", "2.5", 2.5), ("impact_g", "2,5 g", 2.5), ("settle_ms", "1 200", 1200.0),
    ("hold_off_ms", "12 s", 12000.0),
    ("tilt_deg", "50°", 50.0), ("active_share_pct", "40 %", 40.0), ("guard_ms", "0", 0.0)])
def test_a_number_typed_is_told_once(panel, key, text, value):
    told = []
    panel.typed.connect(lambda *a: told.append(a))
    type_into(panel.rows[key].box, text)
    assert told == [(key, value)]


def test_nonsense_typed_is_not_told_and_gives_way(panel):
    box, told = panel.rows["impact_g"].box, []
    panel.typed.connect(lambda *a: told.append(a))
    type_into(box, "much")
    assert told == []
    show(panel, EVERYTHING_ON.with_value("impact_g", 2.25))
    assert box.text().startswith("2.25")


def test_a_refused_number_gives_way_to_the_one_in_force(panel):
    box = panel.rows["free_fall_g"].box
    type_into(box, "0.9")
    show(panel)
    panel.show_refusal("free_fall_g", "0.90 g was not taken.")
    assert box.value() == 0.6
    assert panel.rows["free_fall_g"].refusal.isVisible()
    assert panel.rows["free_fall_g"].refusal.text() == "0.90 g was not taken."
    show(panel, EVERYTHING_ON.with_value("free_fall_g", 0.5))
    assert not panel.rows["free_fall_g"].refusal.isVisible()


def test_physical_value_and_integer_stand_side_by_side(panel):
    row = panel.rows["impact_g"]
    assert (row.box.text(), row.integer.text()) == ("2.00\u00a0g", "1\u202f024")
    show(panel, EVERYTHING_ON, FrontEnd(8.0, 12, 50.0))
    assert row.integer.text() == "512"
    assert panel.rows["active_band_g"].integer.text() == "179\n333"


def test_a_switch_turns_by_click_and_by_space_and_hides_what_belongs_to_it(panel):
    told = []
    panel.chosen.connect(lambda *a: told.append(a))
    click(panel.rows["tilt_on"].switch)
    panel.rows["still_on"].switch.setFocus()
    QTest.keyClick(panel.rows["still_on"].switch, Qt.Key.Key_Space)
    assert told == [("tilt_on", False), ("still_on", False)]
    show(panel, EVERYTHING_ON.with_value("tilt_on", False))
    assert not panel.rows["tilt_deg"].isVisible()
    assert not panel.rows["baseline_ms"].isVisible()
    assert panel.rows["still_g"].isVisible()


def test_a_choice_is_made_with_the_keyboard(panel):
    box, told = panel.rows["free_fall_rule"].box, []
    panel.chosen.connect(lambda *a: told.append(a))
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Down)
    assert told == [("free_fall_rule", "every_axis")]


def test_the_upright_reading_is_three_numbers(panel):
    told = []
    panel.chosen.connect(lambda *a: told.append(a))
    type_into(panel.rows["upright"].boxes[2], "0.3")
    assert told == [("upright", (0.0, 1.0, 0.3))]


def test_the_front_end_is_asked_for_field_by_field(panel):
    told = []
    panel.front_end_asked.connect(lambda *a: told.append(a))
    for field, text in (("range_g", "8"), ("bits", "14 bit"), ("rate_hz", "100"), ("counts_per_g", "256")):
        type_into(panel._front[field], text)
    assert told == [("range_g", 8.0), ("bits", 14), ("rate_hz", 100.0), ("counts_per_g", 256.0)]


def test_the_mark_is_asked_for_and_a_preset_is_offered_with_its_origin(panel):
    told = []
    panel.mark_asked.connect(lambda: told.append("mark"))
    panel.preset_asked.connect(told.append)
    click(panel.mark)
    action, _own = panel.presets.menu().actions()
    assert "from memory" in action.text()
    action.trigger()
    assert told == ["mark", "Waist"]


def test_a_slider_knows_where_the_mark_is(panel):
    show(panel, EVERYTHING_ON, mark=EVERYTHING_ON.with_value("impact_g", 3.0))
    slider = panel.rows["impact_g"].slider
    with_mark = slider.grab().toImage()
    show(panel, EVERYTHING_ON)
    assert slider.grab().toImage() != with_mark


def test_everything_fits_the_panels_width(panel):
    from PySide6.QtWidgets import QScrollArea
    scroll = panel.findChild(QScrollArea)
    assert scroll.widget().minimumSizeHint().width() <= scroll.viewport().width()


@pytest.mark.parametrize(("least", "finest", "step"), [
    (0.01, 0.0, 0.01), (0.01, 1 / 512, 0.01), (0.01, 0.125, 0.125), (4, 20, 20), (4, 25, 25), (20, 40, 40),
    (4, 2.5, 4)])
def test_a_sliders_grid_is_round_and_no_finer_than_the_front_end(least, finest, step):
    assert grid_step(least, finest) == pytest.approx(step)
