"""The C loop that the engine is measured against, compiled here and now."""

from __future__ import annotations

import ctypes
import shutil
import subprocess
from pathlib import Path

import numpy as np

from detect.engine.attempt_table import Attempts
from detect.rule.attempt import CHECKS
from detect.rule.integers import Rule
from detect.scoring.corpus import Corpus

SOURCE = Path(__file__).with_name("rival.c")
FLAGS = ("-std=gnu11", "-O3", "-march=native", "-shared", "-fPIC", "-Wall", "-Wextra", "-Werror")

RULE = ("prefilter", "free_fall_on", "every_axis", "free_fall", "free_fall_run", "impact", "impact_within", "settle",
        "observe", "restart_on", "guard", "active_on", "active_low", "active_high", "active_window", "active_most",
        "tilt_on", "tilt_cosine", "baseline", "reclined_on", "reclined_cosine", "upright", "still_on", "still",
        "hold_off")
ATTEMPT = ("ended", "decided", "early", "failed", "first_low", "last_low", "first_impact", "impact", "restarts",
           "peak", "n")
PLACES = ("decided", "first_low", "last_low", "first_impact", "impact")


def compiler() -> str | None:
    return shutil.which("cc") or shutil.which("gcc") or shutil.which("clang")


class Rival:
    """One corpus, ready to be run over by the C loop. `folder`: where to put what the compiler makes."""

    def __init__(self, corpus: Corpus, folder: Path) -> None:
        found = compiler()
        assert found is not None, "The benchmark needs a C compiler (Debian: gcc)."
        library = folder / "rival.so"
        subprocess.run([found, *FLAGS, str(SOURCE), "-o", str(library)], check=True)
        self._library = ctypes.CDLL(str(library))
        self._library.rival.restype = ctypes.c_int64
        self.corpus = corpus
        self._out = np.empty((corpus.samples // 2 + len(corpus.stretch_first) + 1, len(ATTEMPT)), dtype=np.int64)
        self._filtered: dict[int, np.ndarray] = {1: corpus.counts}

    def run(self, rule: Rule) -> np.ndarray:
        """(k, len(ATTEMPT)) int64; places are in the corpus, −1 where not reached. Timed by the benchmark."""
        v = self.filtered(rule.prefilter)
        begin = self.corpus.stretch_first + (rule.prefilter - 1)
        stop = self.corpus.stretch_stop
        numbers = np.hstack([np.ravel(getattr(rule, name)) for name in RULE]).astype(np.int64)
        found = self._library.rival(*(ctypes.c_void_p(a.ctypes.data) for a in (v, begin, stop)),
                                    ctypes.c_int64(len(begin)), ctypes.c_void_p(numbers.ctypes.data),
                                    ctypes.c_void_p(self._out.ctypes.data))
        return self._out[:found]

    def filtered(self, length: int) -> np.ndarray:
        if length not in self._filtered:
            v = np.zeros_like(self.corpus.counts)
            for first, stop in zip(self.corpus.stretch_first.tolist(), self.corpus.stretch_stop.tolist(), strict=True):
                self._library.rival_filter(ctypes.c_void_p(self.corpus.counts.ctypes.data),
                                           ctypes.c_void_p(v.ctypes.data), ctypes.c_int64(first),
                                           ctypes.c_int64(stop), ctypes.c_int64(length))
            self._filtered = {1: self.corpus.counts, length: v}
        return self._filtered[length]


def as_rival(corpus: Corpus, attempts: Attempts) -> np.ndarray:
    """The engine's attempts in the C loop's columns."""
    first = corpus.recording_first[attempts.recording]
    columns = []
    for name in ATTEMPT:
        if name == "ended":
            columns.append(attempts.ended.astype(np.int64))
            continue
        column = attempts.columns[name]
        values = np.where(column.known, column.values.astype(np.int64) + (first if name in PLACES else 0), -1)
        columns.append(values)
    if not attempts.rule.observes:
        columns[ATTEMPT.index("n")] = np.where(attempts.columns["impact"].known, 0, -1)
    return np.stack(columns, axis=1) if columns else np.empty((0, len(ATTEMPT)), dtype=np.int64)


assert CHECKS == ("active", "tilt", "reclined", "still"), "rival.c has these bits"
