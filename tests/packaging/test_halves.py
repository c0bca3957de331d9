"""The tests run as two halves: what both come to is one line, and a half that fails or dies is never lost."""

import importlib
import sys
from pathlib import Path
from types import ModuleType

import pytest

PACKAGING = Path(__file__).resolve().parents[2] / "packaging"

# Stands in for pytest: prints what its last words ask for, and leaves with a code of its own.
STAND_IN = """
import sys
window = "tests/app/ui" in sys.argv
print("a line\\n=== %s in %.2fs ===" % (("3 passed", 2.5) if window else ("4 passed", 3.0)))
sys.exit(CODE if window else 0)
"""


@pytest.fixture
def halves(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(PACKAGING))
    return importlib.import_module("halves")


def test_counts_of_both_halves_are_added(halves: ModuleType) -> None:
    lines = ["===== 5 passed, 1 skipped, 2 deselected in 9.87s =====", "=== 1 failed, 7 passed in 61.02s (0:01:01) ==="]
    assert halves.closing_line(lines) == "==== both halves: 12 passed, 1 skipped, 2 deselected, 1 failed in 61.02s ===="


def test_a_half_without_an_end_is_told(halves: ModuleType) -> None:
    assert "did not come to its end: Killed" in halves.closing_line(["= 5 passed in 1.00s =", "Killed"])
    assert "nothing was printed" in halves.closing_line(["= 5 passed in 1.00s =", ""])


@pytest.mark.parametrize("code", [0, 1])
def test_both_halves_are_printed_and_a_failure_of_either_is_the_answer(
        halves: ModuleType, code: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = STAND_IN.replace("CODE", str(code))
    assert halves.run_halves([sys.executable, "-c", text], tmp_path, {}, {}) == code
    printed = capsys.readouterr().out.splitlines()
    assert printed.count("a line") == 2
    assert printed[-1] == "==== both halves: 7 passed in 3.00s ===="


@pytest.mark.parametrize("window", [True, False])
def test_a_half_that_a_signal_ended_is_a_failure(halves: ModuleType, window: bool, tmp_path: Path) -> None:
    text = ("import os, signal, sys\n"
            f"if ('tests/app/ui' in sys.argv) is {window}:\n"
            "    os.kill(os.getpid(), signal.SIGKILL)\n")
    assert halves.run_halves([sys.executable, "-c", text], tmp_path, {}, {}) > 0
