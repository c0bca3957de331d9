"""Reading a line into a raw capture, in a process of its own: nothing that the window or the rule does makes it late.

Standard input can't be handed to another process everywhere, so it is read on a thread. A process that is ended from
outside while a line is open is begun again; what came meanwhile is lost, and counted by its sequence numbers.
"""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

from app.formatting import plural
from app.study.capture.raw_file import CLOSED, ENDED, MARK, OPENED, RECEIVED, SENT, Header, RawWriter
from app.study.capture.sources import SerialPort, Source, SourceEnded, StandardInput, TcpClient, TcpServer, opened
from data.problem import Problem

AGAIN_S = 0.5
"""Between two attempts to open a line that broke."""

READY, STOPPED = "ready", "stopped"
ENDED_FROM_OUTSIDE = "The reading process was ended from outside."


def read_into(source: Source, path: Path, header: Header, control: Connection, own_process: bool = True,
              goes_on: bool = False) -> None:
    """Read until told to stop, until the source ends, or until the other end of `control` is gone.

    Says READY once the line is open; at the end STOPPED and why, empty where it was told to; a Problem where it could
    not begin. `goes_on`: another process had read into the file until it was ended; the line is waited for.
    """
    if own_process:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the process that started this one
    try:
        writer = _begun(source, path, header, goes_on)
    except Problem as problem:
        control.send(problem)
        control.close()
        return
    control.send((READY, ""))
    why, reading = "", _Reading(source, writer, control)
    try:
        reading.until_the_end(goes_on)
    except SourceEnded:
        why = "The source has ended."
    except OSError as error:
        why = f"The capture file can't be written: {error.strerror}. What came until then is kept."
    with suppress(OSError):
        writer.append(ENDED, b"")
        reading.take_marks()
    source.close()
    with suppress(OSError):
        writer.close()
    with suppress(OSError):
        control.send((STOPPED, why))
    control.close()


def _begun(source: Source, path: Path, header: Header, goes_on: bool) -> RawWriter:
    """The file, and the line open. Problem where either can't be; then no file is left of this."""
    writer = RawWriter(path, header, goes_on)
    if not goes_on:
        try:
            opened(source)
        except Problem:
            with suppress(OSError):  # empty, it would be offered as a capture to recover
                writer.close()
                path.unlink()
            raise
    return writer


class _Stop(Exception):
    pass


@dataclass
class _Reading:
    source: Source
    writer: RawWriter
    control: Connection

    def until_the_end(self, goes_on: bool) -> None:
        """SourceEnded at the source's end; OSError where the capture can't be written."""
        with suppress(_Stop):
            if goes_on:
                self._reopen(ENDED_FROM_OUTSIDE)
            else:
                self.writer.append(OPENED, b"")
            while True:
                self._obey()
                try:
                    data = self.source.read()
                except OSError as error:
                    self._reopen(str(error))
                    continue
                if data:
                    self.writer.append(RECEIVED, data)

    def take_marks(self) -> None:
        """Those that were on their way when it ended."""
        with suppress(_Stop):
            self._obey()

    def _obey(self) -> None:
        while self.control.poll():
            try:
                what, data = self.control.recv()
            except EOFError:
                raise _Stop from None
            if what == "stop":
                raise _Stop
            if what == "mark":
                self.writer.append(MARK, data)
                continue
            self.writer.append(SENT, data)
            with suppress(OSError):  # a line that broke shows when it is read
                self.source.write(data)

    def _reopen(self, why: str) -> None:
        self.writer.append(CLOSED, why.encode())
        self.source.close()
        while True:
            self._obey()
            try:
                self.source.open()
                break
            except OSError:
                time.sleep(AGAIN_S)
        self.writer.append(OPENED, b"")


class Reader:
    """The reading process, from the side of whoever started it. Problem where the line can't be opened."""

    def __init__(self, source: Source, path: Path, header: Header) -> None:
        self.path, self._source, self._header = path, source, header
        self.begun_again = 0
        """How often the process was ended from outside and another one went on."""
        self._stopping = False
        self.why: str | None = None
        """Why it stopped; None while it reads."""
        self._begin(goes_on=False)
        first = self._said()
        if isinstance(first, Problem):
            self._join()
            raise first

    def _begin(self, goes_on: bool) -> None:
        context = get_context("spawn")
        self._control, theirs = context.Pipe()
        arguments = self._source, self.path, self._header, theirs
        self._ready = False
        self.process = None
        if isinstance(self._source, StandardInput):
            thread = threading.Thread(target=read_into, args=(*arguments, False), name="plumbfall-reader")
            thread.start()
            self._join: Callable[[], None] = thread.join
            return
        self.process = context.Process(target=read_into, args=(*arguments, True, goes_on), name="plumbfall-reader")
        self.process.start()
        theirs.close()
        self._join = self.process.join

    def _said(self) -> object:
        try:
            said: object = self._control.recv()
        except (EOFError, OSError):
            self._gone()
            return None
        if isinstance(said, tuple):
            self._ready = True
            if said[0] == STOPPED:
                self.why = str(said[1])
        return said

    def _gone(self) -> None:
        """The process is there no more, without a word. One that never began would not the next time either; what is
        no line would be read from its beginning."""
        line = isinstance(self._source, SerialPort | TcpClient | TcpServer)
        if self._stopping or not self._ready or not line:
            self.why = f"{ENDED_FROM_OUTSIDE} What came until then is kept."
            return
        self.begun_again += 1
        self._put_away()
        self._begin(goes_on=True)

    def _put_away(self) -> None:
        self._join()
        if self.process is not None:
            self.process.close()
            self.process = None
        self._control.close()

    @property
    def reading(self) -> bool:
        """Whether it goes on."""
        while self.why is None and self._control.poll():
            self._said()
        return self.why is None

    def send(self, data: bytes) -> None:
        """To the boards."""
        self._tell("send", data)

    def mark(self, data: bytes) -> None:
        """What the person did, with the reader's time; after the source has ended, behind what it gave."""
        if self.reading:
            self._tell("mark", data)
            return
        with suppress(OSError, Problem):  # where the capture can't be written, `why` says so
            writer = RawWriter(self.path, self._header, goes_on=True)
            writer.append(MARK, data)
            writer.close()

    def stop(self) -> str:
        """End it; why it had stopped already and what the person should know, else nothing."""
        self._stopping = True
        self._tell("stop", b"")
        while self.why is None:
            self._said()
        self._put_away()
        if not self.begun_again:
            return self.why
        return (f"{self.why} The reading process was ended from outside and begun again, "
                f"{plural(self.begun_again, 'time')}: what came meanwhile is counted as lost.").strip()

    def _tell(self, what: str, data: bytes) -> None:
        with suppress(OSError):
            if self.reading:
                self._control.send((what, data))
