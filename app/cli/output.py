"""How commands speak: a table a person can read, or JSON; sentences for what went wrong."""

from __future__ import annotations

import io
import json
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Protocol, TextIO

from app.formatting import time_left
from app.study.results.content import ScoreView
from data.problem import printable

DONE, CHECK_FAILED, WRONG_INPUT, INTERRUPTED = 0, 1, 2, 130
"""Exit codes: done; completed, but a check failed; wrong input or usage; Ctrl-C (128 + SIGINT, as shells have it)."""


def print_json(plain: object) -> None:
    print(json.dumps(plain, ensure_ascii=False, indent=2, allow_nan=False))


def print_table(heads: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> None:
    """Columns under their heads; those numbered in `right` are aligned right."""
    widths = [max([len(head), *(len(row[i]) for row in rows)]) for i, head in enumerate(heads)]
    for line in (heads, *rows):
        cells = [cell.rjust(width) if i in right else cell.ljust(width)
                 for i, (cell, width) in enumerate(zip(line, widths, strict=True))]
        print("  ".join(cells).rstrip())


OPTIONS = {
    "columns": "--columns TIME,X,Y,Z, or [columns] in a recipe",
    "units.acceleration": "--unit {}, or acceleration under [units] in a recipe",
    "units.time": "--time-unit {}, or time under [units] in a recipe",
    "time.rates_hz": "--rate HZ, or rates_hz under [time] in a recipe",
    "front_end": "range_g, bits and rate_hz under [front_end] in a recipe",
    "raw": "[raw] in a recipe",
    "volts": "[volts] in a recipe",
    "own": "[own] in a recipe",
    "split": "--split {} or --one-recording, or in a recipe [split] or one_recording = true under [files]",
    "rows": "--rows {}, or [rows] in a recipe",
    "same": "--keep-same",
    "time.stamps": "--stamps {}, or stamps under [time] in a recipe",
}
"""Where a person at a terminal says what a Problem's field is about."""


def print_below(heads: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> None:
    """A table after a line that is left empty."""
    print()
    print_table(heads, rows, right)


def print_score(view: ScoreView) -> None:
    """Matrix and figures, each below an empty line."""
    counts = view.counts
    print_below(("", "alarm", "no alarm"),
                ((f"fall ({view.falls})", f"{counts['tp']} caught", f"{counts['fn']} missed"),
                 (f"other activity ({view.others})", f"{counts['fp']} false alarms", f"{counts['tn']} quiet")), (1, 2))
    print_below(("figure", "value", "95 % interval", "by people"),
                [(cell.name, cell.text, cell.interval, cell.by_person) for cell in view.cells], (1, 2, 3))


def complain(sentence: str) -> None:
    print(printable(sentence, "\n"), file=sys.stderr)


class Escaping:
    """A stream on which names can't move the cursor, and what its encoding lacks is escaped."""

    def __init__(self, stream: TextIO, kept: str) -> None:
        self._stream, self._kept = stream, kept
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")

    def write(self, text: str) -> int:
        return self._stream.write(printable(text, self._kept))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


class Telling(Protocol):
    def __call__(self, share: float, said: str = "", left: str | None = None, /) -> None:
        """The share that is done, how far that is in words, where there are any, and the time left where who works
        knows it better than by the time so far."""


def progress(words: str) -> Telling | None:
    """Tells the share that is done, and the time left, on one line of a terminal; None where nobody sits at one."""
    if not sys.stderr.isatty():
        return None
    began = time.monotonic()

    def tell(share: float, said: str = "", left: str | None = None, /) -> None:
        rest = time_left(share, time.monotonic() - began) if left is None else left
        parts = [f"{words} {100 * share:3.0f} %", said, rest]
        line = ", ".join(part for part in parts if part)
        print(f"\r{line:<70}", end="\n" if share >= 1 else "", file=sys.stderr, flush=True)
    return tell


@contextmanager
def until_interrupted() -> Iterator[Callable[[], bool]]:
    """Whether Ctrl-C was pressed, for work that keeps what it has so far; a second one ends it at once."""
    pressed = threading.Event()

    def press(*_: object) -> None:
        if pressed.is_set():
            raise KeyboardInterrupt
        pressed.set()

    before = signal.signal(signal.SIGINT, press)
    try:
        yield pressed.is_set
    finally:
        signal.signal(signal.SIGINT, before)
