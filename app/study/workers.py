"""Worker processes on this machine: for reading many files, and for everything that tries many settings.

The workers of a scheduler elsewhere, as an executor like any other. Needs the extra `cluster`.

Work travels as Python's own pickles, which whoever can speak to a scheduler or a worker can make do anything: they
belong on a network whose machines trust each other.
"""

from __future__ import annotations

import gc
import hashlib
import logging
import os
import pickle
import signal
import tempfile
import threading
import time
import weakref
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager, suppress
from importlib.util import find_spec
from multiprocessing import get_context, parent_process
from multiprocessing.connection import wait
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from data.problem import Problem
from detect.workers import KEPT, SELDOM, NoWorkerLeft, Parcel

MOST_WORKERS = 512
WORTH_FILES = 300
WORTH_BYTES = 60 * 1024**2
"""A worker takes about a second to start; fewer or smaller files than these are read sooner without."""

LEFT_BEHIND_S = 24 * 3600.0
"""A file of recordings so old was left by a program that was killed."""


class Processes(ProcessPoolExecutor):
    """Processes of this machine, each of which reads what it is given from a file, once.

    Spawned, not forked: a program with a window has threads that a fork would tear. Ctrl-C, which a terminal sends to
    all of them, is for this process alone to answer.
    """

    def __init__(self, number: int) -> None:
        super().__init__(number, get_context("spawn"), _begin)

    def hand_out(self, parcel: Parcel) -> Parcel:
        """The parcel as a file that is there as long as what is returned; as it is where room is lacking for one."""
        _clear_away()
        try:
            with tempfile.NamedTemporaryFile(prefix=_files_of(os.getpid()), suffix=".pickle", delete=False) as file:
                filed = _Filed(parcel.token, Path(file.name))
                weakref.finalize(filed, Path(file.name).unlink, missing_ok=True)
                pickle.dump(parcel.thing, file, protocol=pickle.HIGHEST_PROTOCOL)
        except OSError:
            return parcel
        return filed

    def look_up(self) -> None:
        """A process that dies breaks the whole pool, which says so itself."""


def _files_of(process: int) -> str:
    """How the names of a process's files begin."""
    return f"plumbfall-{process}-"


def _begin() -> None:
    """In a worker: Ctrl-C is its parent's to answer, and it ends where that ends, however that was. Nothing that it
    reads is in a cycle, so it seldom looks for one."""
    gc.set_threshold(SELDOM)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: BaseProcess) -> None:
    wait([parent.sentinel])
    _remove(f"{_files_of(parent.pid or 0)}*.pickle", 0.0)
    os._exit(1)


def _clear_away() -> None:
    """Files that a killed program left; younger ones may be somebody's at work, who asks anew for a lost one."""
    _remove("plumbfall-*.pickle", LEFT_BEHIND_S)


def _remove(names: str, older_than_s: float) -> None:
    for path in Path(tempfile.gettempdir()).glob(names):
        with suppress(OSError):
            if time.time() - path.stat().st_mtime >= older_than_s:
                path.unlink()


class _Filed(Parcel):
    """A parcel that a process of this machine finds in a file."""

    def __init__(self, token: str, path: Path) -> None:
        super().__init__(token, None)
        self.path = path

    def __reduce__(self) -> tuple[Any, ...]:
        return _Filed, (self.token, self.path)

    def opened(self) -> Any:
        found = super().opened()
        if found is not None:
            return found
        try:
            with self.path.open("rb") as file:
                thing = pickle.load(file)  # not its bytes first: they would be there twice
        except OSError:
            return None  # somebody tidied up: it is asked for again
        return Parcel(self.token, thing).opened()


@contextmanager
def processes(number: int) -> Iterator[Executor | None]:
    """So many workers; None for one, which is this process."""
    if number > MOST_WORKERS:
        raise Problem("option", f"{number} workers are more than any machine has use for.",
                      f"Choose at most {MOST_WORKERS}; this machine has {os.cpu_count() or 1} cores.")
    if number == 1:
        yield None
        return
    pool = Processes(number)
    try:
        yield pool
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


@contextmanager
def workers_for(paths: Sequence[Path]) -> Iterator[Executor | None]:
    """As many processes as there are cores, or None where they would not pay."""
    with processes((os.cpu_count() or 1) if _worth_it(paths) else 1) as pool:
        yield pool


def _worth_it(paths: Sequence[Path]) -> bool:
    files = size = 0
    for path in paths:
        for file in path.rglob("*") if path.is_dir() else [path]:
            try:
                found = file.stat()
            except OSError:
                continue
            files += 1
            size += found.st_size
            if files >= WORTH_FILES or (files > 1 and size >= WORTH_BYTES):
                return True
    return False


if TYPE_CHECKING:
    from distributed import Client
    from distributed import Future as AtScheduler
    from tornado.ioloop import IOLoop

ANSWERS_WITHIN_S = 10.0
GRACE_S = 20.0
"""So long is waited for a worker to come back where none is left: whoever looks after them may start another."""
ASKED_EVERY_S = 1.0

HERE = "What was left was worked out here; the result is the same."


@contextmanager
def connected(address: str) -> Iterator[Cluster]:
    """The workers of the scheduler at an address such as tcp://10.1.2.3:8786.

    Raises Problem where it doesn't answer, has no worker, or one of them hasn't the same Plumbfall.
    """
    if find_spec("distributed") is None:
        raise Problem("library_missing", "Sending work to a scheduler needs the package distributed, which is not "
                      "installed.", "Install it (pip install distributed, or plumbfall[cluster]), or leave the "
                      "scheduler out.")
    import asyncio  # only here: the program's start doesn't wait for it

    from distributed import Client

    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what matters of it is told in sentences
    try:
        asyncio.run(_answers(address))
    except (OSError, ValueError, TypeError) as reason:
        raise Problem("no_scheduler", f'No scheduler answers at "{address}": {_first_line(reason)}.',
                      'Start one with "dask scheduler" and give the address that it prints.', value=address) from None
    with Client(address, timeout=ANSWERS_WITHIN_S, set_as_default=False) as client:
        _check_workers(client, address)
        yield Cluster(client, address)


async def _answers(address: str) -> None:
    """Asked first, since a client that can't connect leaves its threads running. Raises OSError, or what is wrong with
    the address."""
    from distributed.comm.core import connect

    await (await connect(address, timeout=ANSWERS_WITHIN_S)).close()


class Cluster(Executor):
    """Work for a scheduler's workers. Where one is lost, the others do its work again.

    Of a machine with more workers than cores only as many get work as it has cores, as long as they are there: more
    would only take turns, each with an index of its own.
    """

    def __init__(self, client: Client, address: str) -> None:
        self._client, self._loop, self._address = client, cast("IOLoop", client.loop), address
        self._cores: dict[str, int] = {}
        self._use(client.nthreads())
        self._seen = self._asked = time.monotonic()

    def _use(self, threads: dict[str, int]) -> None:
        """Who gets work, of workers by their addresses; anew where one came or went."""
        new = [worker for worker in threads if worker not in self._cores]
        if new:
            self._cores |= dict.fromkeys(new, 1) | self._client.run(_cores, workers=new, on_error="ignore")
        self._workers, chosen = set(threads), uncrowded(threads, self._cores)
        self._only: dict[str, Any] = {}
        if len(chosen) < len(threads):
            self._only = {"workers": chosen, "allow_other_workers": True}

    def submit(self, work: Callable[..., Any], /, *words: Any, **named: Any) -> Future[Any]:
        # Not by the library's own executor: where workers are lost it may take a result for a failure, since it looks
        # at a job's state only after it has fetched the result, when it may be sought anew for somebody else.
        there = self._client.submit(work, *words, **named, pure=False, **self._only)
        here: Future[Any] = Future()
        here.add_done_callback(lambda one: there.cancel() if one.cancelled() else None)
        self._loop.add_callback(self._hand_on, here, there)
        return here

    async def _hand_on(self, here: Future[Any], there: AtScheduler) -> None:
        """Runs in the client's thread, whose loop must hear of no failure."""
        try:
            result, failure = await there, None
        except BaseException as reason:  # noqa: BLE001 - handed on
            result, failure = None, self._told(there, reason)
        if not here.set_running_or_notify_cancel():
            return
        if failure is None:
            here.set_result(result)
        else:
            here.set_exception(failure)

    def _told(self, there: AtScheduler, reason: BaseException) -> BaseException:
        if there.cancelled():
            return NoWorkerLeft(f'The scheduler at "{self._address}" lost the work. {HERE}')
        if type(reason).__name__ == "KilledWorker":
            return NoWorkerLeft(f'Several workers of "{self._address}" died at the same work. {HERE}')
        return reason

    def hand_out(self, parcel: Parcel) -> Parcel:
        """To every worker that lacks it."""
        try:
            has = self._client.run(_is_there, parcel.token, on_error="ignore")
            lacking = [worker for worker, is_there in has.items() if not is_there]
            if lacking:
                self._client.run(_take, parcel, workers=lacking, on_error="ignore")
        except (OSError, TimeoutError) as reason:
            raise NoWorkerLeft(f'The workers of "{self._address}" did not accept the recordings '
                               f"({_first_line(reason)}). {HERE}") from None
        return _Given(parcel.token)

    def look_up(self) -> None:
        now = time.monotonic()
        if now - self._asked < ASKED_EVERY_S:
            return
        self._asked = now
        try:
            there = self._client.nthreads()
            if there and set(there) != self._workers:
                self._use(there)
        except (OSError, TimeoutError):
            raise NoWorkerLeft(f'The scheduler at "{self._address}" no longer answers. {HERE}') from None
        if there:
            self._seen = time.monotonic()
        elif now - self._seen > GRACE_S:
            raise NoWorkerLeft(f'The scheduler at "{self._address}" has no worker left. {HERE}')


def _cores() -> int:
    return os.cpu_count() or 1


def uncrowded(threads: Mapping[str, int], cores: Mapping[str, int]) -> list[str]:
    """Of each machine's workers no more than its cores are for, those with the lower addresses; one at least.

    `threads` and `cores` (of its machine) by the worker's address, such as tcp://10.1.2.3:40123.
    """
    found, taken = [], dict[str, int]()
    for worker in sorted(threads):
        machine = worker.rpartition(":")[0]
        busy = taken.get(machine, 0)
        if busy == 0 or busy + threads[worker] <= cores[worker]:
            found.append(worker)
            taken[machine] = busy + threads[worker]
    return found


_given: dict[str, Parcel] = {}
"""In a worker: what it was handed last, by token, for all its threads."""


def _is_there(token: str) -> bool:
    return token in _given


def _take(parcel: Parcel) -> None:
    while len(_given) >= KEPT:
        del _given[next(iter(_given))]
    _given[parcel.token] = parcel


class _Given(Parcel):
    """A parcel that was handed out before."""

    def __init__(self, token: str) -> None:
        super().__init__(token, None)

    def __reduce__(self) -> tuple[Any, ...]:
        return _Given, (self.token,)

    def opened(self) -> Any:
        there = _given.get(self.token)
        return super().opened() if there is None else there.opened()


def _check_workers(client: Client, address: str) -> None:
    try:
        client.wait_for_workers(1, timeout=ANSWERS_WITHIN_S)
    except TimeoutError:
        raise Problem("no_worker", f'The scheduler at "{address}" has no worker.',
                      f'Start some with "dask worker {address}".', value=address) from None
    own = code_digest()
    for worker, found in client.run(code_digest, on_error="return").items():
        if isinstance(found, Exception):
            raise Problem("worker_lacks", f"The worker {worker} failed: {_first_line(found)}.",
                          "Install this Plumbfall, with its extra cluster, where the workers run.", value=worker)
        if found != own:
            raise Problem("other_release", f"The worker {worker} has another version of Plumbfall, so it might "
                          "give different results.", "Install the same version there and restart the worker.",
                          value=worker)


def code_digest() -> str:
    """Of all the code that work may call: equal ones come to equal results."""
    digest = hashlib.sha256()
    root = Path(__file__).resolve().parents[2]
    for path in sorted(path for room in ("app/study", "data", "detect") for path in (root / room).rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def _first_line(reason: BaseException) -> str:
    return (str(reason) or type(reason).__name__).splitlines()[0].rstrip(".")
