"""A session of volunteers: a script of trials in random order, with rests, redo, and a check of each.

A script is a table with the columns activity, kind (fall or other), times and instructions.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from data.problem import Problem, from_os_error

COLUMNS = ("activity", "kind", "times", "instructions")
KINDS = ("fall", "other")
MOST_TIMES = 100

BEFORE_S = 3.0
"""Upright and still for so long before a trial."""

STILL_G, UPRIGHT_DEGREES = 0.15, 30.0
"""Standing people sway by less, on a waist or a chest: common practice, no source."""

REST_EVERY = 10
"""Trials between two rests."""

CAUTIONS = (
    "Everyone has given informed consent, and the ethics approval that your place asks for is there.",
    "A mat lies where people fall, and a spotter stands beside it.",
    "No falls are staged by frail people, or by anybody with a reason not to fall.",
    "Everyone knows the word that stops a trial at once.",
    "The device is taped or strapped, not clipped: a clip can hurt, and moves.",
    "Names are pseudonyms, in files and in comments.",
    "Local rules come first; this list replaces none of them.",
)
"""The usual cautions; common practice, no source."""


@dataclass(frozen=True)
class ScriptRow:
    activity: str
    kind: str
    times: int
    instructions: str


@dataclass(frozen=True)
class Trial:
    """`number`: which of its activity's, from 1."""

    activity: str
    kind: str
    number: int
    instructions: str


@dataclass(frozen=True)
class DoneTrial:
    """`faults`: what its check found. `label`: number of its label in the capture that runs; None where its recording
    was made already."""

    trial: Trial
    faults: tuple[str, ...] = ()
    label: int | None = None


@dataclass(frozen=True)
class NodeTally:
    """What a node had lost and clipped at a moment."""

    lost: int = 0
    clipped: int = 0


def read_script(path: Path) -> tuple[ScriptRow, ...]:
    """Problem with file, line and value."""
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise from_os_error(error, path.name, "read") from error
    except UnicodeDecodeError as error:
        raise Problem("script", "The script is not UTF-8 text.", "Save it as UTF-8.", file=path.name) from error
    delimiter = max(",;\t", key=text.partition("\n")[0].count)
    reader = csv.DictReader(io.StringIO(text), delimiter=delimiter)
    missing = [name for name in COLUMNS if name not in (reader.fieldnames or ())]
    if missing:
        raise Problem("script", f"The script has no column {missing[0]}.", f"Name its columns {', '.join(COLUMNS)}.",
                      file=path.name, line=1)
    rows = []
    for plain in reader:
        activity, kind, times = ((plain[name] or "").strip() for name in COLUMNS[:3])
        if not activity or kind not in KINDS or not times.isdigit() or not 1 <= int(times) <= MOST_TIMES:
            what = ("activity", activity) if not activity else ("kind", kind) if kind not in KINDS else ("times", times)
            raise Problem("script", f'{what[0]} is "{what[1]}".', "activity needs a name, kind is fall or other, times "
                          f"a number from 1 to {MOST_TIMES}.", file=path.name, line=reader.line_num, column=what[0],
                          value=what[1])
        rows.append(ScriptRow(activity, kind, int(times), (plain["instructions"] or "").strip()))
    if not rows:
        raise Problem("script", "The script has no rows.", "Write a row for each activity.", file=path.name)
    return tuple(rows)


@dataclass
class VolunteerSession:
    """Trials in an order that `seed` draws. What is done again comes next."""

    rows: Sequence[ScriptRow]
    seed: int
    done: list[DoneTrial] = field(default_factory=list)

    def __post_init__(self) -> None:
        trials = [Trial(row.activity, row.kind, number + 1, row.instructions)
                  for row in self.rows for number in range(row.times)]
        order = np.random.default_rng(self.seed).permutation(len(trials))
        self.ahead = [trials[i] for i in order]
        self.total = len(trials)

    @property
    def current(self) -> Trial | None:
        return self.ahead[0] if self.ahead else None

    @property
    def rest_is_due(self) -> bool:
        return bool(self.done) and len(self.done) % REST_EVERY == 0 and bool(self.ahead)

    @property
    def failed(self) -> list[int]:
        """Which of those done have something against them."""
        return [at for at, one in enumerate(self.done) if one.faults]

    def end(self, faults: Sequence[str], label: int | None = None) -> None:
        """The current trial is over."""
        self.done.append(DoneTrial(self.ahead.pop(0), tuple(faults), label))

    def redo(self, at: int = -1) -> DoneTrial | None:
        """One of those done again, now: what it was then; None where nothing is done yet."""
        if not self.done:
            return None
        again = self.done.pop(at)
        self.ahead.insert(0, again.trial)
        return again

    def recordings_made(self) -> None:
        """The capture is over: labels of what was done in it can't be taken back here."""
        self.done = [replace(one, label=None) for one in self.done]

    def skip(self) -> None:
        """The current trial later."""
        if self.ahead:
            self.ahead.append(self.ahead.pop(0))


def faults_before(before_g: np.ndarray, rate_hz: float, upright: Sequence[float]) -> list[str]:
    """What speaks against starting now. `before_g`: (n, 3) the last samples; `upright`: the direction of gravity then.
    """
    wanted = int(BEFORE_S * rate_hz)
    if len(before_g) < wanted:
        return [f"less than {BEFORE_S:g} s were recorded before"]
    last = before_g[-wanted:]
    faults = []
    if float(np.linalg.norm(last, axis=1).std()) > STILL_G:
        faults.append(f"not still for {BEFORE_S:g} s before")
    mean, up = last.mean(axis=0), np.asarray(upright, np.float64)
    cosine = float(mean @ up / max(float(np.linalg.norm(mean) * np.linalg.norm(up)), 1e-9))
    if np.degrees(np.arccos(np.clip(cosine, -1, 1))) > UPRIGHT_DEGREES:
        faults.append("not upright before")
    return faults


def faults_during(start: dict[int, NodeTally], end: dict[int, NodeTally]) -> list[str]:
    """What was lost and clipped in a trial, by node."""
    faults = []
    for node, after in sorted(end.items()):
        before = start.get(node, NodeTally())
        if after.lost > before.lost:
            faults.append(f"node {node} lost {after.lost - before.lost} samples")
        if after.clipped > before.clipped:
            faults.append(f"node {node} clipped {after.clipped - before.clipped} samples")
    return faults
