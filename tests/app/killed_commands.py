"""Reads into a study and exports over an older one, each killed at some moment.

Run as a program of its own, so that the modules are loaded once and every round is a fork. Arguments: folder, "read" or
"export", rounds, seed.
"""

from __future__ import annotations

import hashlib
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

from app.__main__ import main as command
from app.study.storage import study_files
from data.problem import Problem
from detect.firmware.export import MANIFEST
from detect.firmware.header.writer import NAME
from detect.rule.settings import DEFAULTS
from tests.data.made import csv_text, wearer

FILES = 8
LONGEST_S = {"read": 0.6, "export": 1.2}
TURNS = (0, 1, 0, 1)
"""The settings exported one after another."""


def run(*words: str) -> None:
    with open(os.devnull, "w") as nowhere, redirect_stdout(nowhere), redirect_stderr(nowhere):
        assert command(words) == 0


def killed_after(work: Callable[[Callable[[int], None]], None], after_s: float) -> list[int]:
    """What the work said until it was killed, or was done."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        code = 1
        try:
            with os.fdopen(writing, "w") as told:
                work(lambda number: print(number, file=told, flush=True))
            code = 0
        finally:
            os._exit(code)
    os.close(writing)
    os.read(reading, 2)  # "0": it is at work
    time.sleep(after_s)
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0, "it failed by itself"
    with os.fdopen(reading) as said:
        return [int(line) for line in said.read().split("\n") if line]


def one_read(folder: Path, after_s: float) -> None:
    """What a read said was saved is in the study; it opens; and what is missing can be read into it."""
    study = folder / "porch.json"
    study.unlink(missing_ok=True)

    def work(say: Callable[[int], None]) -> None:
        say(0)
        for number in range(1, FILES + 1):
            run("read", str(folder / "walks" / f"{number}.csv"), "--study", str(study))
            say(number)

    saved = max(killed_after(work, after_s), default=0)
    try:
        there = [item.name for item in study_files.load(study).items]
    except Problem:
        assert not study.exists(), "the study is damaged"
        there = []
    assert there == [str(number) for number in range(1, len(there) + 1)]
    assert len(there) >= saved, f"{saved} recordings were saved, {len(there)} are there"
    if len(there) < FILES:
        run("read", str(folder / "walks" / f"{len(there) + 1}.csv"), "--study", str(study))
        assert len(study_files.load(study).items) == len(there) + 1


def content_of(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*")
            if path.is_file() and not path.name.endswith(".part")}


def export(folder: Path, number: int) -> None:
    run("export", str(folder / "porch.json"), "--settings", str(folder / f"{number}.json"), "--to", str(folder / "out"))


def one_export(folder: Path, after_s: float) -> None:
    """With a manifest everything is as it says; a new header lies beside nothing that is older."""
    def work(say: Callable[[int], None]) -> None:
        say(0)
        for step, number in enumerate(TURNS, 1):
            export(folder, number)
            say(step)

    done = max(killed_after(work, after_s), default=0)
    found = content_of(folder / "out")
    if MANIFEST in found:
        listed = [line.split("  ") for line in found[MANIFEST].decode().splitlines()[1:]]
        assert len(listed) > 50
        for digest, name in listed:
            assert hashlib.sha256(found[name]).hexdigest() == digest, f"{name} is not what the manifest says"
    export(folder, TURNS[min(done, len(TURNS) - 1)])  # the one it was at
    newest = content_of(folder / "out")
    if MANIFEST not in found and found[NAME] == newest[NAME]:
        assert {**found, MANIFEST: newest[MANIFEST]} == newest, "a new header lay beside older files"
    export(folder, 1)


def main(folder: Path, kind: str, rounds: int, seed: int) -> None:
    (folder / "walks").mkdir()
    for number in range(1, FILES + 1):
        (folder / "walks" / f"{number}.csv").write_text(csv_text(samples=wearer(300, seed=number)))
    if kind == "export":
        run("read", str(folder / "walks"), "--study", str(folder / "porch.json"))
        for number in (0, 1):
            plain = str(DEFAULTS.with_value("impact_g", 2.0 + number / 2).plain())
            text = plain.replace("'", '"').replace("True", "true").replace("False", "false")
            (folder / f"{number}.json").write_text(f'{{"settings": {text.replace("(", "[").replace(")", "]")}}}')
            export(folder, number)
    chance = random.Random(seed)
    for _ in range(rounds):
        (one_read if kind == "read" else one_export)(folder, chance.uniform(0, LONGEST_S[kind]))
    print(rounds)


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))
