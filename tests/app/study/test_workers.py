"""Many files are read by several processes, with the same outcome as by one, and can be cancelled."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from app.study import workers
from app.study.importing import sources
from data.problem import Problem
from data.recipe.recipe import Recipe
from detect.workers import Shared
from tests.app.arrivals import Arrives, arrivals, who
from tests.data.made import csv_text, wearer


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(workers, "WORTH_FILES", 20)
    for i in range(30):
        (tmp_path / f"{i:02d}.csv").write_text(csv_text(samples=wearer(100, seed=i)))
    (tmp_path / "30.csv").write_text("time_s,x_g,y_g,z_g\n0,0,1,x\n")
    return tmp_path


def test_workers_are_started_where_they_pay_and_read_the_same(folder, monkeypatch):
    with workers.workers_for([folder]) as pool:
        assert pool is not None
    together = sources.read([folder], Recipe())
    monkeypatch.setattr(workers, "WORTH_FILES", 1000)
    with workers.workers_for([folder]) as pool:
        assert pool is None
    alone = sources.read([folder], Recipe())
    assert [file.source.name for file in together.files] == [file.source.name for file in alone.files]
    assert all(np.array_equal(one.recording.samples, other.recording.samples)
               for one, other in zip(together.read, alone.read, strict=True))
    assert together.refused[0].problem.sentence() == alone.refused[0].problem.sentence()


def test_reading_by_workers_can_be_cancelled(folder):
    asked = iter([False, True])
    batch = sources.read([folder], Recipe(), cancelled=lambda: next(asked, True))
    assert batch.cancelled
    assert len(batch.files) < 31


def test_each_process_gets_a_large_thing_once_and_its_file_goes_with_it(tmp_path, monkeypatch):
    monkeypatch.setattr(workers.tempfile, "tempdir", str(tmp_path))
    (noted := tmp_path / "noted").mkdir()
    shared = Shared(Arrives(noted))
    with workers.processes(2) as pool:
        found = [pair for _ in range(4) for pair in shared.map(who, range(200), pool)]
    assert [job for job, _ in found] == list(range(200)) * 4
    assert arrivals(noted) == dict.fromkeys({process for _, process in found}, 1)
    assert len(list(tmp_path.glob("*.pickle"))) == 1
    del shared
    assert list(tmp_path.glob("*.pickle")) == []


def test_without_room_for_a_file_processes_are_sent_it(tmp_path, monkeypatch):
    monkeypatch.setattr(workers.tempfile, "tempdir", str(tmp_path / "nowhere"))
    with workers.processes(2) as pool:
        assert [job for job, _ in Shared(Arrives(tmp_path)).map(who, range(20), pool)] == list(range(20))


def test_a_file_that_a_killed_program_left_is_cleared_away_and_a_lost_one_is_written_again(tmp_path, monkeypatch):
    monkeypatch.setattr(workers.tempfile, "tempdir", str(tmp_path))
    (noted := tmp_path / "noted").mkdir()
    left, young, other = (tmp_path / name for name in ("plumbfall-a.pickle", "plumbfall-b.pickle", "else.pickle"))
    for path in (left, young, other):
        path.touch()
    for path in (left, other):
        os.utime(path, (0, 0))
    shared = Shared(Arrives(noted))
    with workers.processes(2) as pool:
        shared.map(who, [1], pool)  # one of them has read it
        (written,) = set(tmp_path.glob("plumbfall-*.pickle")) - {young}
        written.unlink()
        assert [job for job, _ in shared.map(who, range(200), pool)] == list(range(200))
    assert not left.exists()
    assert young.exists()
    assert other.exists()
    assert set(arrivals(noted).values()) == {1}


ORPHANED = """
import os, signal, sys, time
from pathlib import Path
from app.study import workers
from detect.workers import Shared
from tests.app.arrivals import Arrives, who
if __name__ == "__main__":
    with workers.processes(2) as pool:
        shared = Shared(Arrives(Path(sys.argv[1])))
        shared.map(who, range(4), pool)
        print(" ".join(str(pid) for pid in pool._processes), flush=True)
        os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks at processes by /proc")
def test_workers_end_with_a_killed_parent_and_leave_no_file(tmp_path):
    script = tmp_path / "orphaned.py"
    script.write_text(ORPHANED)
    (noted := tmp_path / "noted").mkdir()
    (there := tmp_path / "tmp").mkdir()
    root = Path(__file__).parents[3]
    done = subprocess.run([sys.executable, str(script), str(noted)], cwd=root, capture_output=True, text=True,
                          env={**os.environ, "TMPDIR": str(there), "PYTHONPATH": str(root)}, timeout=120)
    workers_then = [int(pid) for pid in done.stdout.split()]
    assert len(workers_then) == 2, done.stderr
    until = time.monotonic() + 30
    while time.monotonic() < until and (any(Path(f"/proc/{pid}").exists() for pid in workers_then)
                                        or list(there.glob("plumbfall-*"))):
        time.sleep(0.05)
    assert not [pid for pid in workers_then if Path(f"/proc/{pid}").exists()]
    assert list(there.glob("plumbfall-*")) == []


def test_an_absurd_number_of_workers_is_a_sentence():
    with pytest.raises(Problem, match="more than any machine"), workers.processes(100_000):
        pass
