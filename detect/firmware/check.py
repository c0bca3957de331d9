"""Check an exported folder on this machine: build it, run its vectors, send recordings through it."""

from __future__ import annotations

import re
import subprocess
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from detect.attempt import Attempt
from detect.firmware import device_vectors, header, vectors
from detect.firmware.sources import AROUND_C, AROUND_H, DETECTOR_C, DETECTOR_H, DEVICE_SELFTEST_C, SELFTEST_C
from detect.firmware.twin import BuildFailed, NoCompiler, Twin, TwinFailed, build

__all__ = ["BuildFailed", "CheckReport", "NoCompiler", "NotAnExport", "Recorded", "TwinFailed", "check"]

NEEDED = (header.NAME, DETECTOR_H, DETECTOR_C, vectors.NAME, SELFTEST_C)
AROUND = (*AROUND_H, *AROUND_C, device_vectors.NAME, DEVICE_SELFTEST_C)
"""Log, alarm and link: all of them or, in a firmware that has no use for them, none."""


class NotAnExport(Exception):
    """A folder in which files of an export are missing."""

    def __init__(self, folder: Path, missing: Sequence[str]) -> None:
        super().__init__(f"{folder} is no exported folder: {', '.join(missing)} not found there. Export it again.")
        self.folder, self.missing = folder, tuple(missing)


@dataclass(frozen=True)
class Recorded:
    """A recording in the device's counts, its stretches (n, 3) int16, and the attempts it gives in the workbench."""

    name: str
    stretches: Sequence[np.ndarray]
    attempts: Sequence[Attempt]


@dataclass(frozen=True)
class CheckReport:
    """What came of a check. `differences` are sentences, one for each recording whose attempts are not the same."""

    vectors: int
    vectors_failed: int
    recordings: int
    attempts: int
    differences: tuple[str, ...]
    device_vectors: int = 0
    device_vectors_failed: int = 0

    @property
    def passed(self) -> bool:
        return self.vectors > 0 and self.vectors_failed == self.device_vectors_failed == 0 and not self.differences


def check(folder: Path, recordings: Iterable[Recorded] = (), compiler: str | None = None) -> CheckReport:
    """Build a copy of the folder's C, run its vectors, and compare every attempt of the recordings.

    NotAnExport, NoCompiler, BuildFailed and TwinFailed say in a sentence why it could not be done; the folder itself
    is left as it is.
    """
    around = AROUND if any((folder / name).is_file() for name in AROUND) else ()
    missing = [name for name in (*NEEDED, *around) if not (folder / name).is_file()]
    if missing:
        raise NotAnExport(folder, missing)
    files = {name: (folder / name).read_bytes() for name in NEEDED}
    ran, failed = _run_vectors(files, (SELFTEST_C, DETECTOR_C), compiler)
    device_ran, device_failed = _run_vectors({name: (folder / name).read_bytes() for name in (DETECTOR_H, *around)},
                                             (DEVICE_SELFTEST_C, *AROUND_C), compiler) if around else (0, 0)
    count = attempts = 0
    differences = []
    with Twin(files, compiler=compiler) as twin:
        for recorded in recordings:
            found = twin.attempts(recorded.stretches)
            count += 1
            attempts += len(found)
            if (difference := difference_of(list(recorded.attempts), found)) is not None:
                differences.append(f"{recorded.name}: {difference}")
    return CheckReport(ran, failed, count, attempts, tuple(differences), device_ran, device_failed)


def _run_vectors(files: dict[str, bytes], c_files: Sequence[str], compiler: str | None) -> tuple[int, int]:
    """How many vectors of a self-test ran, and how many failed."""
    with tempfile.TemporaryDirectory(prefix="plumbfall-") as name:
        folder = Path(name)
        for file, content in files.items():
            (folder / file).write_bytes(content)
        program = build(folder, "selftest", c_files, compiler=compiler)
        try:
            done = subprocess.run([program], capture_output=True, text=True, timeout=60, check=False)
        except subprocess.TimeoutExpired:
            raise TwinFailed("The vectors did not end within a minute.") from None
    said = re.match(r"(\d+) vectors, (?:0 left out for want of memory, )?(\d+) failed\n", done.stdout)
    if said is None or done.returncode not in (0, 1):
        raise TwinFailed(f"The vectors stopped with code {done.returncode}. {done.stdout}{done.stderr}".strip())
    return int(said[1]), int(said[2])


def difference_of(here: Sequence[Attempt], there: Sequence[Attempt]) -> str | None:
    """The first difference between the workbench's attempts and the C's, as a sentence; None where there is none."""
    for number, (a, b) in enumerate(zip(here, there, strict=False), 1):
        for field in fields(Attempt):
            mine, its = getattr(a, field.name), getattr(b, field.name)
            if mine != its:
                return (f"attempt {number}, decided at sample {a.decided}: {field.name} is {mine!r} here and {its!r} "
                        "in the C.")
    if len(here) != len(there):
        return f"{len(here)} attempts here, {len(there)} in the C."
    return None
