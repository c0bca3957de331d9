"""`plumbfall tune` whose workers die, or that is cancelled: it goes on with what it knew and finds the same."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from app.__main__ import main
from app.study import actions
from app.study.session import Session
from app.study.tuning import search_results
from app.study.tuning.search import Search, SearchRequest
from detect.tuning.tally import Tally
from detect.workers import WORKER_DIED, Shared, Stopped
from tests.app.cli.tune_made import KEYS, everybody, tune, written

ROOT = Path(__file__).resolve().parents[3]

pytestmark = pytest.mark.usefixtures("fewer_searches")


def test_a_worker_that_dies_changes_nothing_but_is_told(study, monkeypatch, capsys):
    """The first worker to be seen is ended from outside while it works."""
    wanted = SearchRequest(bounds=dict.fromkeys(KEYS))
    alone = search_results.plain(Search(opened(study), wanted).run())
    from app.study.workers import processes

    with processes(2) as executor:
        assert executor is not None

        def end_one(share: float) -> None:
            for process in list(executor._processes.values())[:1]:
                process.kill()

        together = search_results.plain(Search(opened(study), wanted).run(executor, end_one))
    assert together["remarks"] == [*alone["remarks"], WORKER_DIED]
    assert {**together, "remarks": 0} == {**alone, "remarks": 0}


def opened(study: Path) -> Session:
    return Session.opened(study)


@pytest.mark.parametrize("share", [0.0, 0.4, 0.9])
def test_a_run_that_is_called_off_goes_on_with_what_it_knew(study, monkeypatch, share):
    wanted, shares = SearchRequest(bounds=dict.fromkeys(KEYS)), []
    whole = search_results.plain(Search(opened(study), wanted).run())
    search, sent = Search(opened(study), wanted), []
    each = Shared.each

    def counted(self, work, jobs, *words):
        jobs = list(jobs)
        for job, result in zip(jobs, each(self, work, jobs, *words), strict=True):
            sent.extend(job)
            yield result

    monkeypatch.setattr(Shared, "each", counted)
    with pytest.raises(Stopped):
        search.run(None, shares.append, lambda: bool(shares) and shares[-1] >= share)
    before = len(sent)
    assert search_results.plain(search.run()) == whole
    assert before > 0
    assert len(sent) == len(set(sent)) == whole["tried"]


def test_a_command_that_is_cancelled_goes_on_the_next_time_and_finds_the_same(study, monkeypatch, capsys):
    rules: list[Any] = []
    counts = Tally.counts

    def counted(self, some):
        rules.extend(some)
        if len(rules) > stop_at:
            raise KeyboardInterrupt
        return counts(self, some)

    monkeypatch.setattr(Tally, "counts", counted)
    stop_at = 10**9
    whole = tune(study, capsys, "--json")
    once = len(rules)
    rules.clear()
    stop_at = once // 2
    assert main(["tune", str(study), "--keys", *KEYS, "--workers", "1", "--json"]) == 1
    done = capsys.readouterr()
    assert done.out == ""
    assert "Cancelled: nothing was written. The best so far, on the people tuned on, is 0." in done.err
    assert "The same command goes on from there." in done.err
    first = len(rules)
    rules.clear()
    stop_at = 10**9
    assert main(["tune", str(study), "--keys", *KEYS, "--workers", "1", "--json"]) == 0
    done = capsys.readouterr()
    assert done.err.startswith("Going on with a search that was cancelled at ")
    assert done.out == whole
    assert len(rules) < once - first + 100
    rules.clear()
    assert tune(study, capsys, "--json") == whole
    assert len(rules) == once, "what is finished is not kept"


@pytest.mark.parametrize("content", [b"", b"no archive", b"PK\x03\x04"])
def test_what_a_cache_spoiled_is_worked_out_anew(study, content):
    search = Search(opened(study), SearchRequest(bounds=dict.fromkeys(KEYS)))
    path = search._unfinished.path
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    again = Search(opened(study), SearchRequest(bounds=dict.fromkeys(KEYS)))
    assert again._unfinished.path == path
    assert again.taken_up == 0
    path.unlink()


def test_another_seed_other_bounds_or_labels_are_another_search(study):
    asked = [SearchRequest(bounds=dict.fromkeys(KEYS)), SearchRequest(bounds=dict.fromkeys(KEYS), seed=1),
             SearchRequest(bounds={**dict.fromkeys(KEYS), "impact_g": (1.5, 3.0)})]
    session = opened(study)
    paths = [Search(session, one)._unfinished.path for one in asked]
    labelled = next(item for item in session.study.items if item.labels)
    session.act(actions.set_labels(session.study, labelled.name, ()), "no labels")
    paths.append(Search(session, asked[0])._unfinished.path)
    assert len(set(paths)) == 4


@pytest.mark.skipif(os.name == "nt", reason="a process group is sent the signal of a terminal's Ctrl-C")
def test_ctrl_c_calls_it_off_in_a_sentence_and_writes_nothing(tmp_path, capsys):
    study, out = written(tmp_path / "many", everybody(14)), tmp_path / "found.json"
    process = subprocess.Popen([sys.executable, "-m", "app", "tune", str(study), "--workers", "2", "--out", str(out)],
                               cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
                               start_new_session=True)
    children, until = Path(f"/proc/{process.pid}/task/{process.pid}/children"), time.monotonic() + 60
    while time.monotonic() < until and process.poll() is None and len(children.read_text().split()) < 3:
        time.sleep(0.05)  # two workers and the one who tidies up after them
    time.sleep(1.0)
    os.killpg(process.pid, signal.SIGINT)
    said, complained = process.communicate(timeout=60)
    assert process.returncode == 1
    assert said == ""
    assert complained.strip().startswith("Cancelled: nothing was written.")
    assert "Traceback" not in complained
    assert not out.exists()
