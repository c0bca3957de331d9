"""Settings as the C knows them: each bound on both sides, and the first that is broken named."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from detect.firmware.export import CRC_C, DETECTOR_C, RULE_C, SENSOR_C, SETTINGS_C, SETTINGS_H, VECTORS_TEST_C, source
from detect.firmware.header.fields import FIELDS
from detect.firmware.header.generated import setting_name
from detect.firmware.twins.block import ALL_IN_BOUNDS, first_out_of_bounds
from detect.firmware.vectors.detector import BASE
from detect.firmware.vectors.sensor_cases import sensor_cases
from detect.firmware.vectors.settings_cases import settings_cases
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import DEFAULTS, PARAMETERS, BadSetting
from tests.detect.firmware.mutants import mutants_of, proof_of, run
from tests.detect.firmware.test_header import all_settings, front_ends
from tests.detect.firmware.toolchain import SANITIZED, call, needs

NUMBERS = [field.integer(BASE) for field in FIELDS]


def test_the_cases_stand_on_both_sides_of_every_bound():
    found: dict[int, set[bool]] = {}
    for case in settings_cases():
        for at, number in enumerate(case.numbers):
            if number != NUMBERS[at]:
                found.setdefault(at, set()).add(first_out_of_bounds(case.numbers) == ALL_IN_BOUNDS)
    switches = {at for at, field in enumerate(FIELDS) if field.most == 1}
    assert all(found[at] == {True, False} for at in range(len(FIELDS)) if at not in switches)
    names = [case.name for case in settings_cases()]
    assert len(set(names)) == len(names)


def test_every_setting_has_its_number_in_the_order_of_the_struct():
    names = re.search(r"enum plf_setting \{(.*?)\}", source(SETTINGS_H).decode(), flags=re.S)[1]
    assert [one.strip() for one in names.split(",")] == [
        "PLF_ALL_IN_BOUNDS", *(setting_name(field.one) for field in FIELDS), "PLF_NO_SETTINGS"]


@given(all_settings, front_ends)
def test_the_workbench_exports_nothing_that_the_device_would_refuse(values, front_end):
    settings = DEFAULTS
    for key, value in values.items():
        settings = settings.with_value(key, value)
    try:
        rule = rule_of(settings, front_end)
    except BadSetting:
        return
    assert first_out_of_bounds([field.integer(rule) for field in FIELDS]) == ALL_IN_BOUNDS


@given(st.data())
def test_what_is_refused_is_refused_by_the_workbench_too(data):
    """One integer anywhere: the bounds are those of the table, whichever way they are asked."""
    at = data.draw(st.integers(0, len(FIELDS) - 1))
    field = FIELDS[at]
    value = data.draw(st.integers(-32768, 32767) if field.signed else st.integers(0, 65535))
    numbers = [*NUMBERS[:at], value, *NUMBERS[at + 1:]]
    outside = not field.least <= value <= field.most
    assert not outside or first_out_of_bounds(numbers) == at + 1


@needs("clang")
def test_the_check_names_what_its_twin_names_under_sanitizers(exported):
    """The part of the vectors that is of settings, alone."""
    call(exported, "clang", *SANITIZED, "-DPLF_VECTORS_PART=6", "-o", "one", VECTORS_TEST_C, *RULE_C)
    number = len(list(settings_cases())) + len(list(sensor_cases())) + 1  # and what the header says of itself
    assert number > 150
    assert call(exported, exported / "one").startswith(f"{number} vectors, 0 left out for lack of memory, 0 failed\n")


@needs("cc")


# Slips of the hand


def settings_mutants():
    return mutants_of(source(SETTINGS_C).decode(), "static enum plf_setting first_that")


_TWOS = "on two's complement 16 bits are the same either way; the first is C's own"
EQUIVALENT = {
    ("(low - 1) < impact * impact", "(low - 1) <= impact * impact"): "the root of 3 is irrational, and impact not 0",
    ("{ 1, 65535 }", "{ 1, 65536 }"): "a uint16 has no larger value",
    **{(".least < 0 && value > INT16_MAX", other): _TWOS for other in (
        ".least <= 0 && value > INT16_MAX", ".least < 0 && value >= INT16_MAX", ".least >= 0 && value > INT16_MAX",
        ".least < 0 && value <= INT16_MAX", ".least < 0 || value > INT16_MAX", ".least < 1 && value > INT16_MAX")},
    ("value - 65536", "value + 65536"): _TWOS,
}
"""Mutants that no vector can fail on, code before and after, and why."""


def test_there_are_mutants_of_every_bound():
    assert len(settings_mutants()) > 150
    assert len(PARAMETERS) == len({row.key for row in PARAMETERS})


@needs("cc")
@pytest.mark.slow
def test_the_vectors_kill_every_mutant_that_is_not_equivalent():
    by_verdict = run(settings_mutants(), SETTINGS_C, (VECTORS_TEST_C, DETECTOR_C, SENSOR_C, CRC_C))
    assert [str(mutant) for mutant in by_verdict["alive"] if proof_of(mutant, EQUIVALENT) is None] == []
    assert len(by_verdict["killed"]) > 150


def test_the_defaults_are_in_bounds():
    rule = rule_of(DEFAULTS, FrontEnd())
    assert first_out_of_bounds([field.integer(rule) for field in FIELDS]) == ALL_IN_BOUNDS
