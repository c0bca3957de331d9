"""A source that can't be opened: what the system says, what to do about it, and nothing left behind."""

from __future__ import annotations

import os
import socket

import pytest

from app.study.capture.raw_file import Header, RawWriter
from app.study.capture.reader import Reader
from app.study.capture.sources import GrowingFile, SerialPort, TcpClient, TcpServer, opened
from data.problem import Problem


def said(source) -> str:
    with pytest.raises(Problem, match="can't be opened") as refused:
        opened(source)
    return refused.value.sentence()


@pytest.mark.skipif(os.name != "posix", reason="errors by their numbers")
def test_each_kind_of_source_says_what_the_system_says_and_what_to_do(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        assert said(TcpServer(port)) == (f"port {port} of this computer can't be opened: Address already in use. "
                                         "Close the program that uses it, or choose another port.")
    assert said(TcpClient("127.0.0.1", port)) == (f"127.0.0.1:{port} can't be opened: Connection refused. "
                                                  "Start the sender, or correct the address.")
    assert said(SerialPort("/dev/none")) == (
        "/dev/none at 115200 baud can't be opened: No such file or directory. "
        "Plug the board in, close other programs that use it, or name another port.")
    assert said(GrowingFile(tmp_path / "none.txt")) == (
        f"{tmp_path / 'none.txt'} can't be opened: No such file or directory. "
        "Start the program that writes it, or correct the path.")


def test_a_source_that_can_t_be_opened_leaves_no_capture_and_touches_none_that_is_there(tmp_path):
    path, header = tmp_path / "a.plfcap", Header("test", "text")
    with pytest.raises(Problem, match="can't be opened"):
        Reader(GrowingFile(tmp_path / "none.txt"), path, header)
    assert not path.exists()
    RawWriter(path, header).close()
    before = path.read_bytes()
    with pytest.raises(Problem):
        Reader(GrowingFile(tmp_path / "none.txt"), path, header)
    assert path.read_bytes() == before
