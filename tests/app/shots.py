"""Screenshots of the real window on the demo, to be looked at: `python -m tests.app.shots FOLDER`."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QDialog, QWidget

from app.study.session import Session
from app.ui.about import AboutDialog
from app.ui.program import Program, make_application
from tests.app import shots_beside
from tests.app.mouse import click
from tests.app.shots_beside import settle, wait_for

SIZES = ((1280, 800), (1920, 1080), (900, 600))



def main(folder: Path) -> None:
    """Write every picture into the folder and say its name."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as home:
        application = make_application(["plumbfall"])
        program = Program(application, Path(home))
        program.show()
        for theme in ("light", "dark"):
            program.appearance.choose(theme)
            _empty(program, folder, theme)
        program.files.open_demo()
        wait_for(lambda: program.jobs.at_rest and bool(program.bench.session.study.items), "Opening the demo")
        program.window.resize(*SIZES[0])
        settle()
        wait_for(lambda: program.jobs.at_rest, "What would it take?")
        for theme in ("light", "dark"):
            program.appearance.choose(theme)
            for width, height in SIZES:
                _whole(program, folder, theme, width, height)
            _zoomed(program, folder, theme)
            _dragged(program, folder, theme)
            _about(program, folder, theme)
        program.appearance.choose("light")
        program.window.resize(*SIZES[0])
        shots_beside.take(program, lambda widget, name: _save(widget, folder / f"{name}.png"))
        program.bench.take_session(Session())
        program.window.close()


def _empty(program: Program, folder: Path, theme: str) -> None:
    program.window.resize(*SIZES[0])
    settle()
    _save(program.window, folder / f"empty-{theme}.png")


def _whole(program: Program, folder: Path, theme: str, width: int, height: int) -> None:
    program.window.resize(width, height)
    settle()
    _save(program.window, folder / f"window-{theme}-{width}x{height}.png")


def _zoomed(program: Program, folder: Path, theme: str) -> None:
    """The missed falls, the first of them near its impact, with its attempt chosen."""
    window = program.window
    window.resize(*SIZES[0])
    click(window.score.cells["fn"])
    window.recordings.choose_first()
    settle()
    table, model = window.attempts.table, window.attempts.table.rows_model
    click(table.viewport(), table.visualRect(model.index(0, 0)).center())
    for _ in range(6):
        window.trace.zoom_in_action.trigger()
    settle()
    _save(window, folder / f"missed-{theme}.png")
    click(window.score.cells["fn"])


def _dragged(program: Program, folder: Path, theme: str) -> None:
    """A slider in the middle of a drag, every check on, a mark set."""
    window = program.window
    click(window.settings.mark)
    for key in ("reclined_on", "active_on"):
        program.bench.choose(key, True)
    slider = window.settings.rows["impact_g"].slider
    start = QPoint(20, slider.height() // 2)
    QTest.mousePress(slider, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, start)
    for x in range(20, 42, 2):
        QTest.mouseMove(slider, QPoint(x, start.y()))
        QApplication.processEvents()
    settle()
    _save(window, folder / f"dragged-{theme}.png")
    QTest.mouseRelease(slider, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, QPoint(40, start.y()))
    program.bench.slide("impact_g", 0.5, "")
    settle()
    _save(window, folder / f"stopped-{theme}.png")
    while program.bench.session.history.undoes:
        program.bench.undo()
    settle()


def _about(program: Program, folder: Path, theme: str) -> None:
    program.show_about()
    settle()
    for dialog in program.window.findChildren(AboutDialog):
        _save(dialog, folder / f"about-{theme}.png")
        dialog.pages.setCurrentIndex(1)
        settle()
        _save(dialog, folder / f"licences-{theme}.png")
    for dialog in program.window.findChildren(QDialog):
        dialog.close()
    settle()


def _save(widget: QWidget, path: Path) -> None:
    if not widget.grab().save(str(path)):
        raise OSError(f"{path} could not be written.")
    print(path.name)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
