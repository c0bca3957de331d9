"""A board on the production line: what its raw capture says of it, held against the study's limits.

The operator starts the board's self-test, then lays it on its six faces in any order. Offset and sensitivity come from
the faces, the self-test from the seconds that were marked as such, the rest from what the board says of itself.

Its record is one row of a CSV for every board tested, appended and never changed.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from app.formatting import plural
from app.study.capture.listener import Listener
from app.study.capture.live_rule import NodeScale
from app.study.capture.messages import Happening
from app.study.capture.node_stream import NodeStream, Run
from app.study.capture.raw_file import MARK, Piece, RawReader, marks_in
from app.study.state import Study
from data.problem import Problem, from_os_error
from data.recordings.calibration import SelfTest, check_self_test, six_positions
from data.recordings.model import Calibration, Recording, Stretch
from data.recordings.rest_and_impacts import still_stretches
from detect.device.part.part import ANALOGUE
from detect.device.part.self_test import AXES, expected, nominal_v_per_g
from detect.firmware.header.identity import identity
from detect.firmware.twins.frame import Hello
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of

SELF_TEST = "self-test"
"""The name of the mark between whose start and end the self-test was on and off again."""

HAND_S = 0.2
"""Left out at either end of the self-test: who presses the key has a hand on the board."""

CLOCK_SPAN_S = 20.0
"""A shorter capture says nothing of a clock: messages arrive some ms late."""


@dataclass(frozen=True)
class Limits:
    """What a board may be off by. `self_test_g`: least and largest deflection of each axis, None where it has none.
    `settings_crc32`: of the study's settings."""

    offset_mg: float
    sensitivity_pct: float
    clock_pct: float
    self_test_g: tuple[tuple[float, float], ...] | None
    settings_crc32: int


@dataclass(frozen=True)
class BoardResult:
    """One board. `against`: why it fails, in sentences; empty where it passes. None where something was not found."""

    node: int
    hello: Hello | None
    samples: int
    lost: int
    clock_pct: float | None
    battery_mv: int | None
    calibration: Calibration | None
    self_test: SelfTest | None
    against: tuple[str, ...]

    @property
    def passed(self) -> bool:
        return not self.against


def limits_of(study: Study, self_test: bool = True) -> Limits:
    """The tolerances of the study's device. BadSetting where the self-test's limits contradict each other."""
    values, front_end = study.device, study.front_end
    number = values.number
    if values.text("part.kind") == ANALOGUE:
        offset_mg = number("spread.offset_mv") / nominal_v_per_g(values)
    else:
        offset_mg = number("spread.offset_mg") + number("spread.offset_fs_pct") * 10 * front_end.range_g
    return Limits(offset_mg + number("spread.stress_mg"), number("spread.sensitivity_pct"), number("spread.clock_pct"),
                  expected(values, front_end) if self_test else None,
                  identity(rule_of(study.settings, front_end), front_end))


@dataclass
class _Board:
    scale: NodeScale
    runs: list[tuple[Run, int]]
    battery_mv: int | None = None


def boards_in(raw: Path, study: Study, limits: Limits) -> list[BoardResult]:
    """Every board of a raw capture. Problem where it can't be read or no board was understood."""
    reader = RawReader(raw)
    try:
        listener, pieces = Listener(reader.header), list(reader.all())
        boards = _boards(listener, pieces, study.front_end)
    finally:
        reader.close()
    if not boards:
        raise Problem("nothing_captured", "No board has sent samples that were understood.",
                      "Check protocol, baud and columns; the raw capture is kept.", file=raw.name)
    spans = _spans([piece for piece in pieces if piece.kind == MARK])
    return [_result(listener.nodes[node], board, spans, limits) for node, board in sorted(boards.items())]


def _boards(listener: Listener, pieces: Sequence[Piece], front_end: FrontEnd) -> dict[int, _Board]:
    boards: dict[int, _Board] = {}
    for heard in [*listener.take(pieces), *listener.finish()]:
        said = heard.said
        if isinstance(said, Run):
            if said.node not in boards:
                header = listener.header
                scale = NodeScale.of(header.unit, header.rate_hz, listener.nodes[said.node].hello, front_end)
                boards[said.node] = _Board(scale, [])
            boards[said.node].runs.append((said, heard.host_us))
        elif isinstance(said, Happening) and said.what == "battery" and said.node in boards:
            boards[said.node].battery_mv = said.value
    return boards


def _spans(marks: Sequence[Piece]) -> list[tuple[float, float]]:
    """From when to when the self-test was marked, seconds of the capture's clock."""
    spans, began = [], None
    for host_us, said in marks_in(marks):
        if said.get("name") == SELF_TEST:
            if said["what"] == "start":
                began = host_us / 1e6
            elif began is not None:
                spans.append((began, host_us / 1e6))
                began = None
    return spans


def _result(stream: NodeStream, board: _Board, spans: list[tuple[float, float]], limits: Limits) -> BoardResult:
    rate_hz = board.scale.rate_hz
    samples, times, gaps = _samples(board)
    inside = np.zeros(len(times), bool)
    for start, end in spans:
        inside |= (times >= start + HAND_S) & (times <= end - HAND_S)
    against: list[str] = []
    calibration = _calibration(samples, ~inside, gaps, rate_hz, limits, against)
    test = _self_test(samples[inside], limits, against)
    clock = _clock_pct(board.runs, rate_hz)
    hello = stream.hello
    if stream.losses.lost:
        against.append(f"{plural(stream.losses.lost, 'sample was', 'samples were')} lost: test it again.")
    if stream.conflict:
        against.append("Another board sent under the same number: test one at a time.")
    if clock is not None and abs(clock) > limits.clock_pct:
        against.append(f"Its clock is off by {clock:+.2f} %; {limits.clock_pct:g} % are allowed.")
    if hello is None:
        against.append("It sent no hello: its serial number is unknown.")
    elif hello.settings_crc32 not in (0, limits.settings_crc32):
        against.append(f"Its settings are 0x{hello.settings_crc32:08X}, the study's 0x{limits.settings_crc32:08X}.")
    return BoardResult(stream.node, hello, len(samples), stream.losses.lost, clock, board.battery_mv, calibration, test,
                       tuple(against))


def _samples(board: _Board) -> tuple[np.ndarray, np.ndarray, list[int]]:
    """(n, 3) in g, when each came by the capture's clock, and where stretches begin."""
    parts: list[np.ndarray] = []
    times: list[np.ndarray] = []
    firsts: list[int] = []
    count = latest = 0
    for run, host_us in board.runs:
        latest = max(host_us, latest)
        if run.gap or not parts:
            firsts.append(count)
        parts.append(run.samples / board.scale.counts_per_g if board.scale.unit == "counts" else run.samples)
        times.append(np.full(len(run.samples), latest / 1e6))
        count += len(run.samples)
    return np.vstack(parts).astype(np.float64), np.concatenate(times), firsts


def _calibration(samples: np.ndarray, outside: np.ndarray, gaps: list[int], rate_hz: float, limits: Limits,
                 against: list[str]) -> Calibration | None:
    edges = np.flatnonzero(np.diff(outside.astype(np.int8))) + 1
    firsts = sorted({0, *gaps, *edges.tolist()})
    stretches = tuple(Stretch(first, first / rate_hz, 1 / rate_hz) for first in firsts)
    stills = [still for still in still_stretches(Recording("", samples, "g", rate_hz, rate_hz, True, stretches))
              if outside[still.first]]
    try:
        found = six_positions(stills)
    except Problem as problem:
        against.append(problem.sentence())
        return None
    if found.lacking:
        against.append(f"Faces not seen: {', '.join(found.lacking)}.")
    for axis, offset, gain in zip(AXES, found.offset_g, found.gain, strict=True):
        if abs(1000 * offset) > limits.offset_mg:
            against.append(f"{axis}: offset {1000 * offset:+.0f} mg; {limits.offset_mg:.0f} mg are allowed.")
        if abs(100 * (gain - 1)) > limits.sensitivity_pct:
            against.append(f"{axis}: sensitivity {100 * (gain - 1):+.1f} %; {limits.sensitivity_pct:g} % are allowed.")
    return found


def _self_test(samples: np.ndarray, limits: Limits, against: list[str]) -> SelfTest | None:
    if limits.self_test_g is None:
        return None
    if not len(samples):
        against.append("No self-test was recorded.")
        return None
    try:
        found = check_self_test(samples, limits.self_test_g)
    except Problem as problem:
        against.append(problem.sentence())
        return None
    for axis, deflection, good, (low, high) in zip(AXES, found.deflection_g, found.within, limits.self_test_g,
                                                   strict=True):
        if not good:
            against.append(f"{axis}: self-test {deflection:+.3f} g; {low:.4g} to {high:.4g} g are allowed.")
    return found


def _clock_pct(runs: list[tuple[Run, int]], rate_hz: float) -> float | None:
    """How much faster it samples than it says; None where the capture is too short, or the node started again."""
    start = runs[0][0].start
    known = [(run.first + len(run.samples), host_us) for run, host_us in runs if host_us and run.start == start]
    if len(known) < 2 or known[-1][1] - known[0][1] < CLOCK_SPAN_S * 1e6:
        return None
    (first, began), (last, ended) = known[0], known[-1]
    return 100 * ((last - first) / ((ended - began) / 1e6) / rate_hz - 1)


COLUMNS = ("when_utc", "serial_number", "result", "against", "node", "firmware", "settings_crc32", "samples", "lost",
           "clock_pct", "battery_mv", *(f"offset_{axis}_mg" for axis in AXES),
           *(f"sensitivity_{axis}_pct" for axis in AXES),
           *(f"self_test_{axis}_g" for axis in AXES), "limit_offset_mg", "limit_sensitivity_pct", "limit_clock_pct",
           "raw_capture")


def row_of(one: BoardResult, limits: Limits, when: str, raw: str) -> list[str]:
    """As COLUMNS; what was not found is empty."""
    hello, found, test = one.hello, one.calibration, one.self_test
    return [when, str(hello.serial_number) if hello else "", "pass" if one.passed else "FAIL", " ".join(one.against),
            str(one.node), hello.firmware if hello else "", f"{hello.settings_crc32:08X}" if hello else "",
            str(one.samples), str(one.lost), _number(one.clock_pct, 3),
            "" if one.battery_mv is None else str(one.battery_mv),
            *([f"{1000 * value:.1f}" for value in found.offset_g] if found else [""] * 3),
            *([f"{100 * (value - 1):.2f}" for value in found.gain] if found else [""] * 3),
            *([f"{value:.4f}" for value in test.deflection_g] if test else [""] * 3),
            f"{limits.offset_mg:g}", f"{limits.sensitivity_pct:g}", f"{limits.clock_pct:g}", raw]


def _number(value: float | None, decimals: int) -> str:
    return "" if value is None else f"{value:.{decimals}f}"


def append(path: Path, rows: list[list[str]]) -> None:
    """One write for all rows, on the disk when it returns. Problem where the file is another table or can't be written.
    """
    try:
        with path.open("a+", encoding="utf-8", newline="") as file:
            file.seek(0)
            head = file.readline()
            if head and head.rstrip("\r\n") != ",".join(COLUMNS):
                raise Problem("serial_record", "The file is not a record of tested boards.",
                              "Choose another file; it is made where it is not there.", file=path.name, line=1)
            text = io.StringIO()
            writer = csv.writer(text, lineterminator="\n")
            writer.writerows([*([] if head else [list(COLUMNS)]), *rows])
            file.write(text.getvalue())
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise from_os_error(error, str(path), "save") from error
