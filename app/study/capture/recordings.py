"""From a raw capture to ordinary recordings of a study: one for each node and each of its starts.

A recording is a table of sample number and axes; its recipe makes gaps and grid from the numbers alone, and places
the node's samples on the capture's clock.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from app.formatting import plural
from app.study.capture.clocks import ClockFit, arrival_fit, echo_fit, plausible, unwrapped_us
from app.study.capture.listener import Heard, Listener
from app.study.capture.live_rule import NodeScale
from app.study.capture.messages import EchoReply
from app.study.capture.node_stream import NodeStream, Run
from app.study.capture.raw_file import RawReader, over_us
from app.study.storage.study_files import plain_front_end
from data.problem import Problem, from_os_error
from data.recipe.recipe import Recipe
from data.recipe.sections import Clock, ColumnNames, Raw, TableLayout, Units
from data.recordings.model import About
from detect.firmware.twins.frame import Hello
from detect.rule.front_end import FrontEnd

LEAST_ECHOES = 8
"""Fewer say nothing of a clock's drift."""

WRITTEN_TOGETHER = 2000
"""Lines."""

LEAST_SAMPLES = 2
"""A recording needs a grid."""


@dataclass(frozen=True)
class MadeRecording:
    """A file of one start of one node, and the recipe that reads it. `clock`: how its samples' place in time was found,
    None where nothing said it."""

    path: Path
    recipe: Recipe
    node: int
    samples: int
    gaps: int
    exact: bool
    clock: ClockFit | None
    echoed: bool
    """Whether that was by echoes."""
    serial_number: int | None = None
    """Of its board, where that said it."""


@dataclass(frozen=True)
class Made:
    recordings: tuple[MadeRecording, ...]
    nodes: tuple[NodeStream, ...]
    damaged: int
    """Frames or lines that were not understood."""
    cut_bytes: int
    """At the end of the raw file, of a piece that was not whole."""
    crowd: tuple[int, ...] = ()
    """Numbers of nodes beyond the sixteenth, of which nothing was taken."""
    silent: tuple[tuple[int, float], ...] = ()
    """Nodes that stopped before the capture did, and how many seconds."""

    @property
    def doubtful(self) -> bool:
        """Whether recordings may be another's, or are missing: one frame cut off at the beginning is usual."""
        return bool(self.crowd) or any(node.conflict or node.losses.strange for node in self.nodes)

    def against(self) -> tuple[str, ...]:
        """What lessens the worth of what was recorded, in sentences."""
        said = []
        for node in self.nodes:
            if node.conflict:
                boards = " and ".join(str(serial) for serial in node.serial_numbers)
                said.append(f"Boards {boards} sent as node {node.node}: what came between their hellos may be the "
                            "samples of both. Give each a number of its own and record again.")
            if node.losses.strange:
                said.append(f"Node {node.node}: {plural(node.losses.strange, 'sample')} had numbers that fit nowhere "
                            "and were "
                            "left out.")
        if self.crowd:
            said.append(f"Node{'s' * (len(self.crowd) > 1)} {', '.join(map(str, self.crowd))} came after the sixteenth "
                        "and "
                        f"{'were' if len(self.crowd) > 1 else 'was'} left out. Record fewer nodes at a time.")
        said += [f"Node {node} sent nothing in the last {seconds:.0f} s." for node, seconds in self.silent]
        if self.damaged:
            said.append(f"Frames or lines that were not understood: {self.damaged}.")
        if self.cut_bytes:
            said.append(f"The raw capture ends in {plural(self.cut_bytes, 'byte')} of a piece that is not whole; "
                        "everything "
                        "before it was taken.")
        return tuple(said)


@dataclass
class _Part:
    """One start of a node, on its way to a file."""

    path: Path
    unit: str
    hello: Hello | None
    samples: int = 0
    gaps: int = 0
    firsts: list[tuple[int, int, int]] = field(default_factory=list)
    """Number of a run's first sample, the node's clock at it, the host's when it came."""
    lasts: list[tuple[int, int]] = field(default_factory=list)
    """Number of a run's last sample, and the host's time when it came."""

    def __post_init__(self) -> None:
        self._file = self.path.open("wb", buffering=0)
        self._lines = ["sample,x,y,z\n"]

    def add(self, host_us: int, run: Run) -> None:
        rows = np.column_stack([run.first + np.arange(len(run.samples)), run.samples])
        line = "%d,%d,%d,%d\n" if self.unit == "counts" else "%d,%.17g,%.17g,%.17g\n"
        self._lines += [line % tuple(row) for row in rows.tolist()]
        if len(self._lines) >= WRITTEN_TOGETHER:
            self._write()
        self.samples += len(run.samples)
        self.gaps += run.gap
        if host_us:  # what the end of the capture released had come earlier
            self.lasts.append((run.first + len(run.samples) - 1, host_us))
            if run.time_us is not None:
                self.firsts.append((run.first, run.time_us, host_us))

    def _write(self) -> None:
        data = "".join(self._lines).encode("ascii")
        self._lines.clear()
        while data:
            data = data[self._file.write(data):]

    def finish(self) -> None:
        """Everything is in the file. OSError where it has no room."""
        self._write()
        self.close()

    def close(self) -> None:
        self._file.close()

    def clock(self, rate_hz: float, echo: ClockFit | None) -> ClockFit | None:
        """The sample numbers, as nominal µs, against the capture's clock."""
        if echo is not None and len(self.firsts) > 1:
            number, own, arrived = (np.array(column, np.float64) for column in zip(*self.firsts, strict=True))
            host = echo.line.at_0 + echo.line.slope * unwrapped_us(own, arrived)
            nominal = number * 1e6 / rate_hz
            return ClockFit(plausible(arrival_fit(nominal, host), nominal, host).line, echo.unsure_us)
        if len(self.lasts) < 2:
            return None
        number, arrived = (np.array(column, np.float64) for column in zip(*self.lasts, strict=True))
        nominal = number * 1e6 / rate_hz
        return plausible(arrival_fit(nominal, arrived), nominal, arrived)


def make_recordings(raw: Path, folder: Path, front_end: FrontEnd | None, rate_hz: float = 0.0,
                    progress: Callable[[float], None] | None = None) -> Made:
    """Write the recordings of a raw capture into a folder, named after it.

    `front_end`: the study's; None where it has no recordings yet, and takes the first node's. Problem where the raw
    file can't be read, a file can't be written, or nothing says a node's rate.
    """
    reader = RawReader(raw)
    listener, making = Listener(reader.header), _Making(raw.stem, folder, reader.header.unit)
    try:
        size = raw.stat().st_size
        end_us = 0
        while pieces := reader.take():
            end_us = max(end_us, over_us(pieces))
            for heard in listener.take(pieces):
                making.take(heard, listener)
            if progress is not None:
                progress(min(reader.read_bytes / size, 1.0))
        for heard in listener.finish():
            making.take(heard, listener)
        making.finish()
        made = making.made(listener, front_end, reader.header.rate_hz or rate_hz)
        return Made(made, tuple(listener.nodes.values()), listener.damaged, reader.damaged,
                    tuple(sorted(listener.crowd)),
                    tuple((node, seconds) for node in sorted(listener.nodes)
                          if (seconds := listener.silent_s(node, end_us))))
    finally:
        making.close()
        reader.close()


class _Making:
    def __init__(self, name: str, folder: Path, unit: str) -> None:
        self._name, self._folder, self._unit = name, folder, unit
        self._parts: dict[tuple[int, int], _Part] = {}
        self._echoes: dict[tuple[int, int], list[tuple[int, int, int]]] = {}

    def take(self, heard: Heard, listener: Listener) -> None:
        said = heard.said
        try:
            if isinstance(said, Run):
                key = said.node, said.start
                if key not in self._parts:
                    self._folder.mkdir(parents=True, exist_ok=True)
                    path = self._folder / f"{self._name}_node{said.node}_{said.start}.csv"
                    self._parts[key] = _Part(path, self._unit, listener.nodes[said.node].hello)
                part = self._parts[key]
                part.hello = part.hello or listener.nodes[said.node].hello
                part.add(heard.host_us, said)
        except OSError as error:
            raise from_os_error(error, str(self._folder), "save") from error
        if isinstance(said, EchoReply) and said.number in listener.asked_us:
            key = said.node, listener.nodes[said.node].losses.starts
            self._echoes.setdefault(key, []).append((said.time_us, listener.asked_us[said.number], heard.host_us))

    def made(self, listener: Listener, front_end: FrontEnd | None, rate_hz: float) -> tuple[MadeRecording, ...]:
        return tuple(self._recording(key, part, front_end, rate_hz) for key, part in sorted(self._parts.items())
                     if part.samples >= LEAST_SAMPLES)

    def finish(self) -> None:
        try:
            for part in self._parts.values():
                part.finish()
        except OSError as error:
            raise from_os_error(error, str(self._folder), "save") from error

    def close(self) -> None:
        for part in self._parts.values():
            part.close()

    def _recording(self, key: tuple[int, int], part: _Part, front_end: FrontEnd | None,
                   rate_hz: float) -> MadeRecording:
        node, start = key
        study = front_end or (front_end_of(part.hello) if part.hello is not None else None) or FrontEnd()
        scale = NodeScale.of(self._unit, rate_hz, part.hello, study)
        if not scale.rate_hz:
            raise Problem("rate_unknown", f"Nothing says at which rate node {node} takes samples.",
                          "Name the rate.", field="time.rates_hz")
        echo = self._echo(key)
        clock = part.clock(scale.rate_hz, echo)
        recipe = recipe_of(scale, study, clock, About(node=str(node), trial=str(start)))
        return MadeRecording(part.path, recipe, node, part.samples, part.gaps, scale.exact(study), clock,
                             echo is not None, part.hello.serial_number if part.hello is not None else None)

    def _echo(self, key: tuple[int, int]) -> ClockFit | None:
        echoes = self._echoes.get(key, [])
        if len(echoes) < LEAST_ECHOES:
            return None
        own, asked, answered = (np.array(column, np.float64) for column in zip(*echoes, strict=True))
        return echo_fit(unwrapped_us(own, answered), asked, answered)


def recipe_of(scale: NodeScale, front_end: FrontEnd, clock: ClockFit | None, about: About) -> Recipe:
    """How a recording of such a node is read: gaps and grid from the sample numbers alone."""
    units, raw, section = Units(acceleration=scale.unit, time="samples"), None, None
    if scale.exact(front_end):
        section = plain_front_end(front_end)
    elif scale.unit == "counts":
        units = replace(units, acceleration="raw")
        raw = Raw(bits=scale.bits, width=16, mg_per_count=1000 / scale.counts_per_g)
    line = clock.line if clock is not None else None
    return Recipe(
        columns=ColumnNames(time="sample", x="x", y="y", z="z"),
        table=TableLayout(delimiter=",", decimal=".", encoding="utf-8", header=True, missing=()),
        units=units, raw=raw, front_end=section, about=about,
        clock=Clock(stamps="as-stamped", rates_hz=(scale.rate_hz,), offset_s=line.at_0 / 1e6 if line else 0.0,
                    drift_ppm=(line.slope - 1) * 1e6 if line else 0.0))


def front_end_of(hello: Hello) -> FrontEnd | None:
    """A node's front end as a study's; None where the rule has no integers for it."""
    if not 8 <= hello.bits <= 16:
        return None
    full = 2.0 ** (hello.bits - 1)
    plain = FrontEnd(full / hello.counts_per_g, hello.bits, hello.rate_hz)
    return plain if abs(plain.k - hello.counts_per_g) < 1e-9 else replace(plain, counts_per_g=hello.counts_per_g)
