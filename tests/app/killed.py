"""Rounds of label edits with saves and recovery copies, each killed at some moment.

Run as a program of its own, so that the modules are loaded once and every round is a fork. Arguments: folder, rounds,
seed.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from pathlib import Path

from app.study import actions
from app.study.session import Session
from app.study.state import Item, Study
from app.study.storage import recovery, study_files
from data.recordings.model import Label

ITEMS = tuple(Item(f"walk {i}", f"/walks/{i}.csv", "0" * 64) for i in range(20))
LONGEST_S = 0.15


def labels(count: int) -> tuple[Label, ...]:
    return tuple(Label("fall", str(i), float(i), i + 0.5) for i in range(count))


def edit_for_ever(path: Path, out: int) -> None:
    """One more label each time, a save every seventh; says how many there are once they are kept."""
    session = Session(study_files.load(path), path)
    keeper = recovery.Keeper(session, path.parent)
    count = 0
    while True:
        count += 1
        session.act(actions.set_labels(session.study, "walk 0", labels(count)), "label")
        if count % 7 == 0:
            session.save(path)
        write = keeper.due()
        if write is not None:
            write()
        os.write(out, f"{count}\n".encode())


def one_round(path: Path, after_s: float) -> None:
    """Raises AssertionError where something that was kept is gone, or something half written was taken for whole."""
    study_files.save(Study(items=ITEMS), path)
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            edit_for_ever(path, writing)
        finally:
            os._exit(1)
    os.close(writing)
    os.read(reading, 1)  # it is at work
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status), "it ended by itself"
    with os.fdopen(reading) as said:
        told = [int(line) for line in said.read().split("\n")[:-1] if line]
    saved = study_files.load(path)
    copy = recovery.find(path, path.parent)
    newest = saved if copy is None else copy.study
    kept = len(newest.items[0].labels)
    assert newest.items[0].labels == labels(kept)
    assert len(newest.items) == len(ITEMS)
    assert kept >= max(told, default=1), f"{max(told)} labels were kept, {kept} are there"
    recovery.recovery_path(path, path.parent).unlink(missing_ok=True)


def main(folder: Path, rounds: int, seed: int) -> None:
    chance = random.Random(seed)
    for _ in range(rounds):
        one_round(folder / "porch.json", chance.uniform(0, LONGEST_S))
    left = sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))
    assert left == ["porch.json"], left
    print(rounds)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
