"""Work sent to a scheduler: a real one, with two workers on the loopback address, one of which is killed."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from app.study import workers as cluster
from app.study.results.counts import Counter
from app.study.results.setting_map import map_of
from app.study.tuning import search_results
from app.study.tuning.search import Search, SearchRequest
from app.study.workers import connected, uncrowded
from data.problem import Problem
from data.recordings.model import Label
from detect.workers import Shared
from tests.app.arrivals import Arrives, arrivals, who
from tests.app.scheduler_here import Here, scheduler
from tests.app.study_made import FALL, one, session, session_of, story, walk

ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def here(tmp_path: Path) -> Iterator[Here]:
    with scheduler(tmp_path, 2, ROOT) as found:
        yield found


def people():
    made = []
    for i in range(4):
        who_ = f"W{i:02d}"
        made += [one(f"{who_} trip {trial}", story(impact_g=1.7 + 0.1 * i), [FALL]) for trial in (1, 2)]
        made.append(one(f"{who_} flop 1", story(impact_g=1.3 + 0.2 * i), [Label("other", "flop", None, None)]))
        made.append(one(f"{who_} walk 1", walk(), [Label("other", "walk", None, None)]))
    return session_of(made)


@pytest.mark.slow
def test_with_a_worker_killed_half_way_the_search_ends_and_found_the_same(here, tmp_path):
    wanted = SearchRequest(bounds=dict.fromkeys(("impact_g", "free_fall_g", "tilt_deg", "still_g", "settle_ms")))
    alone = search_results.plain(Search(people(), wanted).run())
    victim = here.workers[0]

    def kill(share: float) -> None:
        if share >= 0.5 and victim.poll() is None:
            os.kill(victim.pid, signal.SIGKILL)
            victim.wait()
            shares.append(share)

    shares: list[float] = []
    (noted := tmp_path / "noted").mkdir()
    with connected(here.address) as executor:
        executor._client.wait_for_workers(2)
        together = search_results.plain(Search(people(), wanted).run(executor, kill))
        with_who = Shared(Arrives(noted)).map(who, range(50), executor)
    assert 0.5 <= shares[0] < 1
    assert victim.returncode == -signal.SIGKILL
    assert together == alone
    assert {process for _, process in with_who} == {here.workers[1].pid}


def test_a_machine_with_more_workers_than_cores_gives_work_to_as_many_as_it_has_cores():
    here = {f"tcp://10.0.0.1:{port}": 1 for port in range(8)}
    there = {"tcp://10.0.0.2:1": 4, "tcp://10.0.0.2:2": 4}
    cores = dict.fromkeys(here, 2) | dict.fromkeys(there, 4)
    assert uncrowded(here | there, cores) == ["tcp://10.0.0.1:0", "tcp://10.0.0.1:1", "tcp://10.0.0.2:1"]
    assert uncrowded(here, dict.fromkeys(here, 16)) == list(here)
    assert uncrowded({"tcp://10.0.0.3:1": 8}, {"tcp://10.0.0.3:1": 2}) == ["tcp://10.0.0.3:1"]


@pytest.mark.slow
def test_each_worker_gets_a_large_thing_once_also_one_who_comes_later(here, tmp_path):
    (noted := tmp_path / "noted").mkdir()
    shared, killed = Shared(Arrives(noted)), []

    def kill(number: int) -> None:
        if number == 100 and not killed:
            killed.append(here.workers[1].pid)
            here.workers[1].kill()

    with connected(here.address) as executor:
        executor._client.wait_for_workers(2)
        before = [pair for _ in range(3) for pair in shared.map(who, range(200), executor)]
        both = arrivals(noted)
        after = shared.map(who, range(200), executor, done=kill)
        alone = arrivals(noted)
        here.start(1)
        executor._client.wait_for_workers(2)
        later = shared.map(who, range(400), executor)
    assert [job for job, _ in before] == list(range(200)) * 3
    assert [job for job, _ in after] == list(range(200))
    assert both == {worker.pid: 1 for worker in here.workers[:2]}
    assert alone == both
    assert [job for job, _ in later] == list(range(400))
    assert arrivals(noted) == {worker.pid: 1 for worker in here.workers}
    assert {process for _, process in later} == {here.workers[0].pid, here.workers[2].pid}
    assert shared.remarks == []


@pytest.mark.slow
def test_a_result_that_is_sought_anew_for_somebody_else_is_no_failure(here, monkeypatch):
    from distributed import Client

    sought = []

    async def gather(self, futures, **named):
        """As where two results were on a worker that died: whoever seeks one sets both back to not known."""
        found = await itself(self, futures, **named)
        for future in futures:
            sought.append(future.key)
            self._send_to_scheduler({"op": "report-key", "key": future.key})
            future._state.reset()
        return found

    itself = Client._gather
    monkeypatch.setattr(Client, "_gather", gather)
    with connected(here.address) as executor:
        found = [executor.submit(abs, -number).result() for number in range(20)]
    assert found == list(range(20))
    assert len(sought) == 20


@pytest.mark.slow
def test_a_map_is_counted_elsewhere_as_here(here):
    own = session()
    _, labelled, prepared, _ = own.evaluated()
    keys = ("impact_g", "free_fall_ms")
    with connected(here.address) as executor:
        there, alone = (map_of(own.study.settings, Counter(prepared, labelled, whose), keys, lambda share: None,
                               lambda: False, lambda view: None, 21) for whose in (executor, None))
    assert (there.counts == alone.counts).all()
    assert (there.runs == alone.runs).all()


@pytest.mark.slow
def test_where_all_workers_die_the_rest_is_worked_out_here_and_said(here, tmp_path, monkeypatch):
    monkeypatch.setattr(cluster, "GRACE_S", 1.0)
    (noted := tmp_path / "noted").mkdir()
    shared = Shared(Arrives(noted))

    def kill(number: int) -> None:
        if number == 10:
            for worker in here.workers:
                worker.kill()

    with connected(here.address) as executor:
        found = shared.map(who, range(3000), executor, done=kill)
    assert [job for job, _ in found] == list(range(3000))
    assert found[-1][1] == os.getpid()
    (said,) = shared.remarks
    assert said.endswith("What was left was worked out here; the result is the same.")


@pytest.mark.slow
def test_a_scheduler_without_workers_is_refused_in_a_sentence(tmp_path, monkeypatch):
    monkeypatch.setattr(cluster, "ANSWERS_WITHIN_S", 1.0)
    with scheduler(tmp_path, 0, ROOT) as here, pytest.raises(Problem) as refused, connected(here.address):
        pass
    assert refused.value.sentence() == (f'The scheduler at "{here.address}" has no worker. '
                                        f'Start some with "dask worker {here.address}".')


@pytest.mark.slow
@pytest.mark.parametrize(("release", "said"), [
    ("none", "No module named 'app.study'"), ("another", "has another version of Plumbfall")])
def test_workers_without_plumbfall_or_with_another_are_refused_in_a_sentence(tmp_path, release, said):
    other = tmp_path / "other"
    for room in ("app", "data", "detect"):
        (other / room).mkdir(parents=True)
        (other / room / "__init__.py").touch()
    if release == "another":
        for room in ("app/study", "data", "detect"):
            shutil.copytree(ROOT / room, other / room, dirs_exist_ok=True)
        (other / "detect" / "later.py").touch()
    with scheduler(tmp_path, 1, other) as here:
        with pytest.raises(Problem) as refused, connected(here.address):
            pass
        assert said in refused.value.sentence()


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense", "", "tcp://127.0.0.1:port", "ftp://127.0.0.1:9"])
def test_an_address_where_no_scheduler_answers_is_refused_in_a_sentence(address, monkeypatch):
    monkeypatch.setattr(cluster, "ANSWERS_WITHIN_S", 0.5)
    with pytest.raises(Problem) as refused, connected(address):
        pass
    assert refused.value.sentence().startswith(f'No scheduler answers at "{address}": ')


def test_without_the_extra_a_scheduler_is_refused_in_a_sentence(monkeypatch):
    monkeypatch.setattr(cluster, "find_spec", lambda name: None)
    with pytest.raises(Problem) as refused, connected("tcp://127.0.0.1:9"):
        pass
    assert "plumbfall[cluster]" in refused.value.sentence()


def test_nothing_of_a_scheduler_is_loaded_where_none_is_asked_for():
    code = "import app.cli.tune, sys; sys.exit('distributed' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT).returncode == 0
