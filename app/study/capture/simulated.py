"""Recordings of a study as nodes that a simulation plays."""

from __future__ import annotations

from collections.abc import Sequence

from app.study.capture.faults import Faults, FaultyLine
from app.study.capture.messages import MOST_NODES
from app.study.capture.simulator import SPEEDS, Schedule, Simulator, node_of
from app.study.recordings.device_signal import as_worn, seen_through
from app.study.session import Session
from data.problem import Problem

FAULT_SEED = 1


def simulated(session: Session, names: Sequence[str], protocol: str, speed: float, faults: Faults) -> Simulator:
    """The named recordings, or the first, a node each. The same faults fall on the same messages each time. Problem
    where a recording is not there or the speed is out of range."""
    if not SPEEDS[0] <= speed <= SPEEDS[1]:
        raise Problem("option", f"The speed must be {SPEEDS[0]:g} to {SPEEDS[1]:g}; it is {speed:g}.", "Correct it.")
    if protocol == "columns":
        raise Problem("option", "A simulation speaks binary or text.", "Choose one of these protocols.",
                      field="protocol")
    wanted = list(names) or list(session.library)[:1]
    missing = [name for name in wanted if name not in session.library]
    if missing or not wanted:
        what = f"The study has no recording {missing[0]}." if missing else "The study has no recordings."
        raise Problem("no_recording", what, "Name recordings of the study that is played.")
    if len(wanted) > MOST_NODES:
        raise Problem("option", f"{len(wanted)} recordings are more than {MOST_NODES} nodes.", "Name fewer.")
    front_end = session.study.front_end
    nodes = []
    for number, name in enumerate(wanted, 1):
        item = session.study.item(name)
        assert item is not None
        nodes.append(node_of(number, seen_through(as_worn(item, session.library[name]), front_end).counts, front_end))
    line = FaultyLine(faults, FAULT_SEED) if faults != Faults() else None
    return Simulator(Schedule(nodes, protocol), speed, f"simulation of {', '.join(wanted)}", line)
