"""Screenshots of what stands beside the main window: every topic of the device with its places, every dialog."""

from __future__ import annotations

import time
from collections.abc import Callable

from PySide6.QtWidgets import QApplication, QDialog, QWidget

from app.study import actions
from app.ui.device.topic import Topic
from app.ui.program import Program

FEW = {"spread.devices": 40, "spread.alone": 0}
"""Devices for a picture of what comes of them."""

PATIENCE_S = 300.0

ENTRIES = ("Record from boards…", "Check quality…", "Calibration and self-test…", "Sealed set…", "Sensor orientation…",
           "Report and archive…", "Preferences…", "Find settings…")
"""Menu entries that open a dialog."""


def take(program: Program, save: Callable[[QWidget, str], None]) -> None:
    """The pictures, each handed over with its name."""
    _device(program, save)
    for entry in ENTRIES:
        _dialog(program, entry, save)


def _device(program: Program, save: Callable[[QWidget, str], None]) -> None:
    bench = program.bench
    for key, number in FEW.items():
        bench.act(actions.set_device_value(bench.session.study, key, number), key)
    program.device.show()
    for controller in program.device.controllers_in_order:
        _topic(program, controller.topic, save, "")
    bench.act(actions.set_device_value(bench.session.study, "current.sleeps", "until woken"), "sleeps")
    for controller in (program.device.parts, program.device.what_if, program.device.budget):
        _topic(program, controller.topic, save, "-asleep")
    while bench.session.history.undoes:
        bench.undo()
    program.device.beside.close()


def _topic(program: Program, topic: Topic, save: Callable[[QWidget, str], None], end: str) -> None:
    beside = program.device.beside
    beside.show_topic(topic.title)
    settle()
    save(beside, f"device-{topic.title}{end}")
    if topic.go.isVisible():
        topic.go.click()
        wait_for(lambda: not topic.working and program.jobs.at_rest, topic.title)
    for title in topic.buttons if topic.view is not None else ():
        topic.show_place(title)
        settle()
        save(beside, f"device-{topic.title}{end}-{title}")


def _dialog(program: Program, entry: str, save: Callable[[QWidget, str], None]) -> None:
    before = set(_dialogs())
    next(one for one in program.window.actions() if one.text() == entry).trigger()
    wait_for(lambda: program.jobs.at_rest, "A run")
    for dialog in [one for one in _dialogs() if one not in before]:
        save(dialog, f"dialog-{entry.rstrip('…')}")
        dialog.close()
    settle()


def _dialogs() -> list[QDialog]:
    return [one for one in QApplication.topLevelWidgets() if isinstance(one, QDialog) and one.isVisible()]


def settle() -> None:
    """Let everything be painted."""
    for _ in range(6):
        QApplication.processEvents()
        time.sleep(0.02)


def wait_for(done: Callable[[], bool], what: str) -> None:
    until = time.monotonic() + PATIENCE_S
    while not done():
        if time.monotonic() > until:
            raise TimeoutError(f"{what} was not done after {PATIENCE_S / 60:.0f} minutes.")
        QApplication.processEvents()
        time.sleep(0.01)
    settle()
