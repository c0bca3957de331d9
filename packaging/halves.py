"""The tests as two pytest processes side by side, a core each: those of the window, and the rest."""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path

OF_WINDOW = ("tests/app/ui",)
THE_REST = ("tests", *(f"--ignore={folder}" for folder in OF_WINDOW))
_CLOSING = re.compile(r"=* ?((?:\d+ [a-z]+(?:, )?)+) in ([\d.]+)s")


def run_halves(pytest: Sequence[str], root: Path, window_in: Mapping[str, str], rest_in: Mapping[str, str]) -> int:
    """The first half's lines as they come, then the second's, then a closing line for both; pytest's exit code.

    Each has an environment of its own: on one display a window of one half would take the keyboard from the other's.
    """
    with tempfile.TemporaryFile("w+", encoding="utf-8") as kept:
        rest = subprocess.Popen([*pytest, *THE_REST], cwd=root, env=rest_in, stdout=kept, stderr=subprocess.STDOUT)
        try:
            window = _shown([*pytest, *OF_WINDOW], root, window_in)
            code = rest.wait()
        finally:
            rest.kill()  # only where this process was cancelled: one that has ended doesn't mind
            rest.wait()
        kept.seek(0)
        text = kept.read()
    print(text, end="")
    print(closing_line([window[1], text.rstrip().rpartition("\n")[2]]), flush=True)
    return abs(window[0]) or abs(code)  # one that a signal ended has a number below zero


def _shown(command: Sequence[str], root: Path, environment: Mapping[str, str]) -> tuple[int, str]:
    """Exit code and last line of a command whose lines are passed on."""
    last = ""
    with subprocess.Popen(command, cwd=root, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                          text=True, encoding="utf-8", errors="replace") as running:
        assert running.stdout is not None
        for line in running.stdout:
            sys.stdout.write(line)
            sys.stdout.flush()
            last = line.strip() or last
    return running.returncode, last


def closing_line(lines: Sequence[str]) -> str:
    """One line as pytest writes it from the last lines of several runs; one that ended otherwise is said."""
    counts: Counter[str] = Counter()
    seconds = 0.0
    for line in lines:
        found = _CLOSING.search(line)
        if found is None:
            return f"One half of the tests did not come to its end: {line or 'nothing was printed'}"
        for part in found[1].rstrip(", ").split(", "):
            number, _, word = part.partition(" ")
            counts[word] += int(number)
        seconds = max(seconds, float(found[2]))
    said = ", ".join(f"{number} {word}" for word, number in counts.items())
    return f"==== both halves: {said} in {seconds:.2f}s ===="
