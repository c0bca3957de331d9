"""Where bytes come from: a serial port, TCP, standard input, a growing file.

A source is opened, read until it ends or breaks, and opened again. `read` waits a moment and gives what there is.
"""

from __future__ import annotations

import os
import select
import socket
import sys
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Protocol

from data.problem import Problem

WAIT_S = 0.02
MOST_BYTES = 1 << 12


class SourceEnded(Exception):
    """Nothing more will ever come: standard input was closed, a simulation is over."""


class Source(Protocol):
    """Errors of the line are OSErrors: the line is opened again then."""

    @property
    def name(self) -> str:
        """As the person knows it."""

    def open(self) -> None: ...

    def read(self) -> bytes:
        """What came, nothing after a moment of silence. SourceEnded, OSError."""

    def write(self, data: bytes) -> None:
        """To the boards, where the source goes both ways."""

    def close(self) -> None: ...


@dataclass
class SerialPort:
    """`port` as the system names it, also one that is in no list, such as a pseudo-terminal's path."""

    port: str
    baud: int = 115_200

    @property
    def name(self) -> str:
        return f"{self.port} at {self.baud} baud"

    def open(self) -> None:
        import serial  # slow to load

        self._serial = serial.Serial(self.port, self.baud, timeout=WAIT_S, write_timeout=1.0)

    def read(self) -> bytes:
        data: bytes = self._serial.read(1)
        if data:
            data += self._serial.read(min(self._serial.in_waiting, MOST_BYTES))
        return data

    def write(self, data: bytes) -> None:
        self._serial.write(data)

    def close(self) -> None:
        with suppress(AttributeError, OSError):
            self._serial.close()


@dataclass
class TcpClient:
    host: str
    port: int

    @property
    def name(self) -> str:
        return f"{self.host}:{self.port}"

    def open(self) -> None:
        self._socket = socket.create_connection((self.host, self.port), timeout=2.0)
        self._socket.settimeout(WAIT_S)

    def read(self) -> bytes:
        return _received(self._socket)

    def write(self, data: bytes) -> None:
        self._socket.sendall(data)

    def close(self) -> None:
        with suppress(AttributeError, OSError):
            self._socket.close()


@dataclass
class TcpServer:
    """Waits for one sender after the other on a port of this machine. `port` 0: one that is free."""

    port: int
    host: str = "127.0.0.1"

    def __post_init__(self) -> None:
        self._listening: socket.socket | None = None
        self._sender: socket.socket | None = None

    @property
    def name(self) -> str:
        return f"port {self.port} of this computer"

    def open(self) -> None:
        if self._listening is None:
            self._listening = socket.create_server((self.host, self.port))
            self.port = self._listening.getsockname()[1]
            self._listening.settimeout(WAIT_S)

    def read(self) -> bytes:
        assert self._listening is not None
        if self._sender is None:
            with suppress(TimeoutError):
                self._sender, _ = self._listening.accept()
                self._sender.settimeout(WAIT_S)
            return b""
        try:
            return _received(self._sender)
        except OSError:
            self._sender.close()
            self._sender = None
            raise

    def write(self, data: bytes) -> None:
        if self._sender is not None:
            self._sender.sendall(data)

    def close(self) -> None:
        for one in (self._sender, self._listening):
            if one is not None:
                one.close()
        self._sender = self._listening = None


def _received(line: socket.socket) -> bytes:
    try:
        data = line.recv(MOST_BYTES)
    except TimeoutError:
        return b""
    if not data:
        raise ConnectionError("The sender closed the connection.")
    return data


@dataclass
class GrowingFile:
    """A file that another program writes: from its beginning, then what is added; again where it was made anew."""

    path: Path

    @property
    def name(self) -> str:
        return str(self.path)

    def open(self) -> None:
        self._file: BinaryIO = self.path.open("rb")

    def read(self) -> bytes:
        data = self._file.read(MOST_BYTES)
        if not data:
            if self.path.stat().st_size < self._file.tell():
                raise OSError("The file was made anew.")
            time.sleep(WAIT_S)
        return data

    def write(self, data: bytes) -> None:
        """Nobody listens."""

    def close(self) -> None:
        with suppress(AttributeError):
            self._file.close()


class StandardInput:
    """What another program writes into a pipe."""

    name = "standard input"

    def open(self) -> None:
        self._number = sys.stdin.fileno()

    def read(self) -> bytes:
        if os.name == "posix" and not select.select([self._number], [], [], WAIT_S)[0]:
            return b""
        data = os.read(self._number, MOST_BYTES)
        if not data:
            raise SourceEnded
        return data

    def write(self, data: bytes) -> None:
        """Nobody listens."""

    def close(self) -> None:
        """It is not ours."""


@dataclass(frozen=True)
class ListedPort:
    """A serial port that the system knows of, and what it says of it."""

    port: str
    description: str


def serial_ports() -> list[ListedPort]:
    from serial.tools import list_ports

    return sorted((ListedPort(one.device, one.description or "") for one in list_ports.comports()),
                  key=lambda one: one.port)


def tcp_address(text: str) -> TcpClient:
    """HOST:PORT. Problem (kind "option") where it is none."""
    host, colon, port = text.rpartition(":")
    if not colon or not host or not port.isdigit() or not 0 < int(port) < 65536:
        raise Problem("option", f'"{text}" is not an address.', "Write HOST:PORT, such as 192.168.4.1:5000.",
                      value=text)
    return TcpClient(host.strip("[]"), int(port))


_REMEDIES: dict[type, str] = {
    SerialPort: "Plug the board in, close other programs that use it, or name another port.",
    TcpClient: "Start the sender, or correct the address.",
    TcpServer: "Close the program that uses it, or choose another port.",
    GrowingFile: "Start the program that writes it, or correct the path.",
}


def opened(source: Source) -> Source:
    """The source, open. Problem where that can't be, with what to do."""
    try:
        source.open()
    except OSError as error:
        raise Problem("no_source", f"{source.name} can't be opened: {_reason(error)}.",
                      _REMEDIES.get(type(source), "Choose another source.")) from error
    return source


def _reason(error: OSError) -> str:
    """What the system says, without the numbers and names that libraries put around it."""
    if isinstance(error, TimeoutError):
        return "No answer in time"
    if isinstance(error, socket.gaierror) or error.errno is None:  # its numbers are not the system's
        return str(error.strerror or error).rstrip(".")
    return os.strerror(error.errno)
