"""Faults of a played line, as they are written."""

import pytest

from app.study.capture.faults import KINDS, Faults, faults_of
from data.problem import Problem


@pytest.mark.parametrize(("text", "faults"), [
    ("", Faults()), ("loss 2", Faults(loss=0.02)), ("loss=2 %, damage 0.5", Faults(loss=0.02, damage=0.005)),
    (", ".join(f"{kind} 100" for kind in KINDS), Faults(1, 1, 1, 1, 1))])
def test_faults_are_written_in_percent_of_messages(text, faults):
    assert faults_of(text) == faults


@pytest.mark.parametrize("text", ["rain 2", "loss", "loss two", "loss -1", "loss 101", "loss nan"])
def test_what_is_no_fault_is_refused_with_those_that_are(text):
    with pytest.raises(Problem) as caught:
        faults_of(f"damage 1, {text}")
    assert f'"{text}" is not a fault' in caught.value.sentence()
    assert "loss, duplicate, reorder, garbage, damage" in caught.value.sentence()
