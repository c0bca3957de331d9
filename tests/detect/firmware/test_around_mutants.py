"""The vectors of record, recorder, log, alarm and link notice every slip of the hand but those that change nothing."""

import pytest

from tests.detect.firmware.around_mutants import EQUIVALENT, MUTATED, around_mutants, survivors
from tests.detect.firmware.toolchain import needs

LEAST = {"crc": 45, "record": 440, "ring": 230, "log": 320, "outcome": 100,
         "recorder": 100, "alarm": 70, "link": 100, "frame": 370}


@pytest.mark.parametrize("name", MUTATED)
def test_there_are_mutants_of_every_file_and_proofs_are_of_mutants(name):
    mutants = around_mutants(name)
    assert len(mutants) >= LEAST[name]
    lines = [(mutant.was, mutant.text.splitlines()[mutant.line - 1]) for mutant in mutants]
    for before, after in EQUIVALENT.get(name, {}):
        assert any(before in was and was.replace(before, after) == now for was, now in lines), (before, after)


@needs("cc")
@pytest.mark.slow
@pytest.mark.parametrize("name", MUTATED)
def test_the_vectors_kill_every_mutant_that_is_not_equivalent(name):
    killed, alive = survivors(name)
    assert [str(mutant) for mutant in alive] == []
    assert killed >= LEAST[name]
