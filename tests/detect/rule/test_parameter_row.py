from dataclasses import fields, replace

import pytest

from detect.rule.parameter_row import ALWAYS, OFF_LOWEST, IncompleteRow, Integer, Parameter, Tuning, Unit, checked
from detect.rule.settings import PARAMETERS

SWITCH = {"key": "quiet_on", "group": "before", "unit": Unit.SWITCH, "needs": ALWAYS, "default": False,
          "title": "Quiet", "spoken": "quiet", "sentence": "It was quiet.",
          "integers": (Integer("quiet_on", "quiet_on", 0, 1),)}
NUMBER = {**SWITCH, "key": "quiet_ms", "unit": Unit.MS, "needs": "quiet_on", "default": 50.0, "low": 10.0,
          "high": 100.0, "step": 10.0, "tuning": Tuning(10, 100, 2.0),
          "integers": (Integer("quiet", "quiet_samples", 1, 4096),)}
CHOICE = {**SWITCH, "key": "quiet_rule", "unit": Unit.CHOICE, "choices": ("all", "any"), "default": "all"}
SHARE = {**NUMBER, "key": "quiet_pct", "unit": Unit.PERCENT, "share_of": "quiet_ms"}
VECTOR = {**NUMBER, "key": "quiet_xyz", "unit": Unit.VECTOR, "default": (0.0, 1.0, 0.0), "integers": tuple(
    Integer("quiet_xyz", f"quiet_{axis}_counts", -9, 9, axis=i, array="quiet_counts") for i, axis in enumerate("xyz"))}
del VECTOR["tuning"]
KINDS = {"switch": SWITCH, "number": NUMBER, "choice": CHOICE, "share": SHARE, "vector": VECTOR}


@pytest.mark.parametrize("kind", KINDS)
def test_a_row_that_says_everything_is_taken(kind):
    assert Parameter(**KINDS[kind]).key == KINDS[kind]["key"]


@pytest.mark.parametrize(("kind", "field"), [(kind, field) for kind, row in KINDS.items() for field in row])
def test_a_row_that_leaves_something_out_is_refused_by_its_name_and_the_field_s(kind, field):
    with pytest.raises(IncompleteRow) as refused:
        Parameter(**{name: value for name, value in KINDS[kind].items() if name != field})
    named = "a row without a key" if field == "key" else f'row "{KINDS[kind]["key"]}"'
    assert str(refused.value) == f"detect/rule/parameters.py, {named}, {field}: is missing."


def test_every_field_is_left_out_above():
    assert {field for row in KINDS.values() for field in row} == {field.name for field in fields(Parameter)}


@pytest.mark.parametrize(("kind", "field", "value"), [
    ("number", "group", "elsewhere"), ("number", "spoken", ""), ("number", "sentence", "No full stop"),
    ("number", "default", 101.0), ("number", "default", "50"), ("number", "step", 0.0), ("number", "integers", ()),
    ("number", "integers", (Integer("quiet", "quiet_samples", 1, 70_000),)),
    ("number", "integers", (Integer("quiet", "quiet_samples", -1, 40_000),)),
    ("number", "integers", (Integer("quiet", "quiet_samples", 1, 9, axis=0, array="quiet"),)),
    ("number", "tuning", Tuning(0, 100, 2.0)), ("number", "tuning", Tuning(10, 100, 1.0)),
    ("number", "tuning", Tuning(100, 10, 2.0)), ("number", "tuning", Tuning(10, 100, 2.0, off="left")),
    ("number", "choices", (1, 2)), ("switch", "default", 1), ("choice", "default", "none"),
    ("choice", "choices", ("all",)), ("vector", "integers", VECTOR["integers"][:2])])
def test_a_row_that_contradicts_itself_is_refused(kind, field, value):
    with pytest.raises(IncompleteRow) as refused:
        Parameter(**{**KINDS[kind], field: value})
    assert refused.value.field == field
    assert f'row "{KINDS[kind]["key"]}", {field}: ' in str(refused.value)


@pytest.mark.parametrize(("second", "field"), [
    ({**NUMBER, "needs": "impact_g"}, "needs"), ({**NUMBER, "needs": "loud_on"}, "needs"),
    ({**SWITCH, "needs": "quiet_ms"}, "needs"), ({**NUMBER, "key": "impact_g"}, "key"),
    ({**NUMBER, "integers": (Integer("quiet", "impact_counts", 1, 9),)}, "member"),
    ({**NUMBER, "integers": (Integer("impact", "quiet_samples", 1, 9),)}, "field"),
    ({**NUMBER, "needs": "tilt_on", "tuning": Tuning(10, 100, 2.0, off=OFF_LOWEST)}, "tuning"),
    ({**SHARE, "needs": ALWAYS, "share_of": "impact_g"}, "share_of")])
def test_a_row_that_contradicts_another_is_refused(second, field):
    with pytest.raises(IncompleteRow) as refused:
        checked((*PARAMETERS, Parameter(**second)))
    assert (refused.value.key, refused.value.field) == (second["key"], field)


def test_a_switch_stands_above_what_needs_it():
    switch, number = Parameter(**SWITCH), Parameter(**NUMBER)
    assert checked((*PARAMETERS, switch, number))[-1] == number
    with pytest.raises(IncompleteRow, match="quiet_on"):
        checked((*PARAMETERS, number, switch))


def test_what_the_rows_say_by_their_unit():
    for row in PARAMETERS:
        assert bool(row.choices) == (row.unit is Unit.CHOICE)
        assert bool(row.tuning.step) == row.is_number


@pytest.mark.parametrize("row", PARAMETERS, ids=lambda row: row.key)
def test_a_row_may_be_copied_with_a_change(row):
    assert replace(row, title="another").title == "another"
