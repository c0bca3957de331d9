"""Boards that are not there: a sender behind a pseudo-terminal, and files of what boards say."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from app.ui.capture.source_form import FILE
from tests.app.mouse import click

ROOT = Path(__file__).parents[4]
POSIX = pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals")


def sending(ours, nodes, samples, speed=20):
    words = [sys.executable, "-m", "tests.app.study.capture.sender", nodes, samples, 50, "binary", speed, "-"]
    return subprocess.Popen(list(map(str, words)), cwd=ROOT, stdout=ours, stderr=subprocess.PIPE, text=True)


def write(combo, text):
    line = combo.lineEdit()
    line.selectAll()
    QTest.keyClicks(line, text)


def choose(combo, text):
    """An entry by its keys."""
    combo.setFocus()
    QTest.keyClick(combo, Qt.Key.Key_Home)
    for _ in range(combo.findText(text)):
        QTest.keyClick(combo, Qt.Key.Key_Down)
    assert combo.currentText() == text


def board_said(tmp_path, *boards):
    """A file of the text protocol: hello and samples of (node, serial number)."""
    words = []
    for node, serial in boards:
        words.append(f"H,{node},{serial},1,50,512,12,0,test")
        words += [f"S,{node},{i},{20_000 * i},0,512,{i % 3}" for i in range(300)]
    path = tmp_path / "board.txt"
    path.write_text("\n".join(words) + "\n")
    return path


def recorded(capturing, qtbot, path, nodes, protocol="text"):
    """Record a file of lines until every node in it was seen, then stop."""
    dialog = capturing.dialog
    dialog.form.kind.setCurrentText(FILE)
    dialog.form.place.setCurrentText(str(path))
    dialog.form.protocol.setCurrentText(protocol)
    click(dialog.record)
    qtbot.waitUntil(lambda: dialog.recording, timeout=30_000)
    qtbot.waitUntil(lambda: len(dialog.strips.status) == nodes and capturing.monitor.received_bytes > 0, timeout=30_000)
