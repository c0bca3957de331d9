"""Check an exported folder on this machine: build it, run its vectors, send recordings through it."""

from __future__ import annotations

import re
import subprocess
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from detect.firmware import statement
from detect.firmware.export import (
    AROUND_C,
    AROUND_H,
    CRC_C,
    DETECTOR_H,
    DEVICE_VECTORS_TEST_C,
    FRAME_C,
    FRAME_VECTORS_TEST_H,
    LOG_VECTORS_TEST_H,
    MANIFEST,
    NAMES,
    PARAMS_JSON,
    RULE_C,
    RULE_H,
    STATION,
    STATION_VECTORS_TEST_C,
    STATION_WITH,
    VECTORS_TEST_C,
    digests,
    lay,
    source,
)
from detect.firmware.header import device as device_header
from detect.firmware.header import writer
from detect.firmware.twins.detector import BuildFailed, NoCompiler, Twin, TwinFailed, build
from detect.firmware.vectors import detector, device, station
from detect.rule.attempt import Attempt

__all__ = ["BuildFailed", "CheckReport", "CountsRecording", "NoCompiler", "NotAnExport", "OtherApi", "TwinFailed",
           "check"]

NEEDED = (writer.NAME, device_header.NAME, *RULE_H, *RULE_C, detector.NAME, VECTORS_TEST_C)
ASKED = (*STATION, station.NAME)
"""What a station may ask: checked where all of it is there."""
AROUND = (*AROUND_H, *AROUND_C, device.NAME, DEVICE_VECTORS_TEST_C, LOG_VECTORS_TEST_H, FRAME_VECTORS_TEST_H)
"""Log, alarm, link and frames: all of them or, in a firmware that has no use for them, none."""


_EDITED = (f"{PARAMS_JSON} is not as exported: its settings, and what it says that they are worth, may not be those of "
           f"{writer.NAME}. Export again.")


class NotAnExport(Exception):
    """A folder in which files of an export are missing."""

    def __init__(self, folder: Path, missing: Sequence[str]) -> None:
        super().__init__(f"{folder} is not an exported folder: {', '.join(missing)} not found there. Export it again.")
        self.folder, self.missing = folder, tuple(missing)


class OtherApi(Exception):
    """A folder whose C has another API version than the one that this program calls."""

    def __init__(self, folder: Path, version: int) -> None:
        super().__init__(f"{folder} was exported with C API {version}; this program checks C API {API_VERSION}. "
                         "Export again.")
        self.folder, self.version = folder, version


def api_version(detector_h: bytes) -> int:
    """PLF_API_VERSION of a plumbfall_detector.h; 1 where there is none, as before the macro came."""
    found = re.search(rb"^#define PLF_API_VERSION (\d+)\b", detector_h, flags=re.M)
    return int(found[1]) if found else 1


API_VERSION = api_version(source(DETECTOR_H))


@dataclass(frozen=True)
class CountsRecording:
    """A recording in the device's counts, its stretches (n, 3) int16, and the attempts it gives in the workbench."""

    name: str
    stretches: Sequence[np.ndarray]
    attempts: Sequence[Attempt]


@dataclass(frozen=True)
class CheckReport:
    """What came of a check.

    `differences`: a sentence for each recording whose attempts are not the same. `header`: what in the header is not as
    the vectors or its own identity have it; then no vector was run. `changed`: files that are not as exported, which
    the vectors judge. `beside`: what is not as exported and no vector judges, in sentences. `whole`: there is a
    manifest, so the export was not cut short. `study`: where a study's settings are not the folder's.
    """

    vectors: int
    vectors_failed: int
    device_vectors: int
    device_vectors_failed: int
    recordings: int
    attempts: int
    differences: tuple[str, ...]
    header: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    whole: bool = True
    study: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()

    @property
    def passed(self) -> bool:
        return self.vectors > 0 and self.vectors_failed == self.device_vectors_failed == 0 \
            and not self.differences and not self.header and not self.beside


def check(folder: Path, recordings: Iterable[CountsRecording] = (), compiler: str | None = None) -> CheckReport:
    """Compare header and vectors, build a copy of the folder's C, run its vectors, and compare every attempt of the
    recordings.

    NotAnExport, OtherApi, NoCompiler, BuildFailed and TwinFailed say in a sentence why it could not be done; the folder
    itself is left as it is.
    """
    detector_h = folder / DETECTOR_H
    if detector_h.is_file() and (version := api_version(detector_h.read_bytes())) != API_VERSION:
        raise OtherApi(folder, version)
    around = AROUND if any((folder / name).is_file() for name in AROUND) else ()
    missing = [name for name in (*NEEDED, *around) if not (folder / name).is_file()]
    if missing:
        raise NotAnExport(folder, missing)
    files = {name: (folder / name).read_bytes() for name in NEEDED}
    header = statement.differences(*(files[name].decode("utf-8", "replace")
                                     for name in (writer.NAME, device_header.NAME, detector.NAME)))
    ran, failed = (0, 0) if header else _run_vectors(files, (VECTORS_TEST_C, *RULE_C), compiler)
    around_it = {name: (folder / name).read_bytes() for name in (*RULE_H, CRC_C, *around)}
    device_ran, device_failed = _run_vectors(around_it, (DEVICE_VECTORS_TEST_C, *AROUND_C, CRC_C),
                                             compiler) if around else (0, 0)
    if around and all((folder / name).is_file() for name in ASKED):
        asked = (*RULE_H, *RULE_C, *AROUND_H, FRAME_C, *ASKED)
        counted = _run_vectors({name: (folder / name).read_bytes() for name in asked},
                               (STATION_VECTORS_TEST_C, *STATION_WITH), compiler)
        device_ran, device_failed = device_ran + counted[0], device_failed + counted[1]
    count = attempts = 0
    differences = []
    with Twin(files, compiler=compiler) as twin:
        for recorded in recordings:
            found = twin.attempts(recorded.stretches)
            count += 1
            attempts += len(found)
            if (difference := difference_of(list(recorded.attempts), found)) is not None:
                differences.append(f"{recorded.name}: {difference}")
    changed = _changed(folder)
    return CheckReport(ran, failed, device_ran, device_failed, count, attempts, tuple(differences), header, changed,
                       (folder / MANIFEST).is_file(), beside=tuple(_EDITED for name in changed if name == PARAMS_JSON))


def _changed(folder: Path) -> tuple[str, ...]:
    """Files of the manifest that are there and not as they were exported; none without a manifest."""
    path = folder / MANIFEST
    text = path.read_text("ascii", "replace") if path.is_file() else ""
    listed = {name: digest for digest, _, name in (line.partition("  ") for line in text.splitlines())}
    there = {name: (folder / name).read_bytes() for name in (*NAMES, PARAMS_JSON)
             if name in listed and (folder / name).is_file()}
    return tuple(name for name, digest in digests(there).items() if digest != listed[name])


def _run_vectors(files: dict[str, bytes], c_files: Sequence[str], compiler: str | None) -> tuple[int, int]:
    """How many vectors of a test program ran, and how many failed."""
    with tempfile.TemporaryDirectory(prefix="plumbfall-") as name:
        folder = Path(name)
        lay(folder, files)
        program = build(folder, "vectors_test", c_files, compiler=compiler)
        try:
            done = subprocess.run([program], capture_output=True, text=True, timeout=60, check=False)
        except subprocess.TimeoutExpired:
            raise TwinFailed("The vectors did not end within a minute.") from None
    said = re.match(r"(\d+) vectors, (?:0 left out for lack of memory, )?(\d+) failed\n", done.stdout)
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
