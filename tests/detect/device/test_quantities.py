"""The device's table: bounds hold, every row has words and an origin, a value given survives, a start is not kept."""

from __future__ import annotations

from importlib.resources import files

import pytest

from detect.device.quantities import PRACTICE, Quantity, Values, rows_of
from detect.device.quantity_table import QUANTITIES, UNCHANGED, device_values
from detect.rule.settings import BadSetting

TABLE = (Quantity("bus.clock_khz", "kHz", 100.0, 1, 5000, "clock", "Bits a second.", PRACTICE),
         Quantity("bus.kind", "", "two-wire", 0, 1, "bus", "What joins them.", PRACTICE, ("two-wire", "four-wire")),
         Quantity("bus.burst", "", True, 0, 1, "burst", "All axes in one read.", PRACTICE))


def test_a_value_given_is_in_force_and_one_equal_to_the_start_is_not_kept():
    values = Values(TABLE, {"bus.clock_khz": 400, "bus.burst": True})
    assert (values.number("bus.clock_khz"), values.given) == (400, {"bus.clock_khz": 400.0})
    assert (values.on("bus.burst"), values.text("bus.kind")) == (True, "two-wire")
    assert values == Values(TABLE).with_value("bus.clock_khz", 400) != Values(TABLE)
    assert hash(values) == hash(Values(TABLE, {"bus.clock_khz": 400.0}))
    assert values.with_value("bus.clock_khz", 100) == Values(TABLE)


@pytest.mark.parametrize(("key", "value"), [("bus.clock_khz", 0), ("bus.clock_khz", float("nan")), ("bus.burst", 1),
                                            ("bus.clock_khz", True), ("bus.kind", "three-wire"), ("bus.speed", 1)])
def test_what_cannot_be_is_refused_with_a_remedy(key, value):
    with pytest.raises(BadSetting) as refused:
        Values(TABLE).with_value(key, value)
    assert (refused.value.key, bool(refused.value.remedy)) == (key, True)


def test_every_row_of_the_device_has_words_an_origin_and_a_start_it_would_take():
    keys = [row.key for row in QUANTITIES]
    assert len(keys) == len(set(keys))
    for row in QUANTITIES:
        assert all((row.title, row.sentence.endswith("."), row.origin, row.group)), row.key
        assert device_values({row.key: row.default}) == UNCHANGED
        assert not row.unit_of or row.unit_of in keys
    lines = files("detect.device").joinpath("quantities.tsv").read_text(encoding="utf-8").splitlines()
    assert [line.split("\t")[1] for line in lines[1:]] == keys, "no row is left over"


@pytest.mark.parametrize("choices", [{}, {"analog.reference": ("supply", "fixed"), "analog.refrence": ("a", "b")},
                                     {"analog.reference": ("mains", "fixed")}])
def test_a_row_and_its_words_belong_together(choices):
    assert rows_of("analog", {"analog.reference": ("supply", "fixed")})
    with pytest.raises((AssertionError, ValueError)):
        rows_of("analog", choices)
