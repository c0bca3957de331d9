"""The workers of a scheduler elsewhere, as an executor like any other. Needs the extra `cluster`.

Work travels as Python's own pickles, which whoever can speak to a scheduler or a worker can make do anything: they
belong on a network whose machines trust each other.
"""

from __future__ import annotations

import asyncio
import hashlib
import logging
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future
from contextlib import contextmanager
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

from data.problem import Problem
from detect.workers import KEPT, NoWorkerLeft, Parcel

if TYPE_CHECKING:
    from distributed import Client

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
    """Work for a scheduler's workers. Where one is lost, the others do its work again."""

    def __init__(self, client: Client, address: str) -> None:
        self._client, self._address = client, address
        self._executor = client.get_executor(pure=False)
        self._seen = self._asked = time.monotonic()

    def submit(self, work: Callable[..., Any], /, *words: Any, **named: Any) -> Future[Any]:
        there = self._executor.submit(work, *words, **named)
        here: Future[Any] = Future()
        here.add_done_callback(lambda one: there.cancel() if one.cancelled() else None)
        there.add_done_callback(partial(self._hand_on, here))
        return here

    def _hand_on(self, here: Future[Any], there: Future[Any]) -> None:
        if not here.set_running_or_notify_cancel():
            return
        if there.cancelled():
            here.set_exception(NoWorkerLeft(f'The scheduler at "{self._address}" lost the work. {HERE}'))
        elif (failure := there.exception()) is None:
            here.set_result(there.result())
        elif type(failure).__name__ == "KilledWorker":
            here.set_exception(NoWorkerLeft(f'Several workers of "{self._address}" died at the same work. {HERE}'))
        else:
            here.set_exception(failure)

    def hand_out(self, parcel: Parcel) -> Parcel:
        """To every worker that lacks it."""
        try:
            has = self._client.run(_is_there, parcel.token, on_error="ignore")
            lacking = [worker for worker, is_there in has.items() if not is_there]
            if lacking:
                self._client.run(_take, parcel, workers=lacking, on_error="ignore")
        except (OSError, TimeoutError) as reason:
            raise NoWorkerLeft(f'The workers of "{self._address}" did not take the recordings '
                               f"({_first_line(reason)}). {HERE}") from None
        return _Given(parcel.token)

    def look_up(self) -> None:
        now = time.monotonic()
        if now - self._asked < ASKED_EVERY_S:
            return
        self._asked = now
        try:
            there = self._client.nthreads()
        except (OSError, TimeoutError):
            raise NoWorkerLeft(f'The scheduler at "{self._address}" answers no more. {HERE}') from None
        if there:
            self._seen = time.monotonic()
        elif now - self._seen > GRACE_S:
            raise NoWorkerLeft(f'The scheduler at "{self._address}" has no worker left. {HERE}')


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
            raise Problem("worker_lacks", f"The worker {worker} can't do the work: {_first_line(found)}.",
                          "Install this Plumbfall, with its extra cluster, where the workers run.", value=worker)
        if found != own:
            raise Problem("other_release", f"The worker {worker} has another Plumbfall than this one, so it might "
                          "find something else.", "Install the same one there, and start the worker anew.",
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
