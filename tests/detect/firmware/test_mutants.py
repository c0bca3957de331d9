"""The golden vectors notice every slip of the hand: no mutant of the C detector passes them but the equivalent ones."""

import re

import pytest

from detect.firmware.export import DETECTOR_C, source
from tests.detect.firmware.mutants import EQUIVALENT, SWAPS, Mutant, code_only, mutants_of, proof_of, run
from tests.detect.firmware.toolchain import needs

TEXT = source(DETECTOR_C).decode()
MUTANTS = mutants_of(TEXT)


def test_there_are_mutants_of_every_comparison_and_every_constant():
    assert len(MUTANTS) >= 600
    mutated = {}
    for mutant in MUTANTS:
        mutated.setdefault(mutant.operator, set()).add(mutant.line)
    code = code_only(TEXT).splitlines()
    first = next(i for i, line in enumerate(code, 1) if "static uint32_t square" in line)
    bounds = {i for i, line in enumerate(code, 1) if i >= first and re.search(r" (<=|>=|<|>) ", line)}
    assert bounds <= mutated["a bound in or out"]
    equalities = {i for i, line in enumerate(code, 1) if i >= first and re.search(r" [=!]= ", line)}
    assert equalities <= mutated["equal or not"]
    assert {operator for operator, *_ in SWAPS} <= set(mutated) | {"verdict"}


def test_a_mutant_is_one_change_in_one_line():
    for mutant in MUTANTS:
        changed = [i for i, (a, b) in enumerate(zip(TEXT.splitlines(), mutant.text.splitlines(), strict=True), 1)
                   if a != b]
        assert changed == [mutant.line]


def test_a_proof_is_for_one_change_and_no_other():
    line = TEXT.splitlines().index("    if (length == 1) {") + 1
    was = TEXT.splitlines()[line - 1]
    assert proof_of(Mutant("", line, was, TEXT.replace("length == 1", "length == 0")))
    assert proof_of(Mutant("", line, was, TEXT.replace("length == 1", "length == 2"))) is None


@needs("cc")
@pytest.mark.slow
def test_the_vectors_kill_every_mutant_that_is_not_equivalent(capsys):
    by_verdict = run(MUTANTS)
    alive = by_verdict["alive"]
    killed = len(by_verdict["killed"])
    with capsys.disabled():
        print(f"\nmutants: {killed} of {killed + len(alive)} killed, {len(alive)} proven equivalent, "
              f"{len(by_verdict['no C'])} are no C")
    assert [str(mutant) for mutant in alive if proof_of(mutant) is None] == []
    assert len(alive) == len(EQUIVALENT), "a proof that no mutant needs"
    assert killed >= 600
