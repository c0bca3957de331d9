"""From a command line to an open window: the application, its font, its places on the disk, the parts tied together."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from platformdirs import user_config_path, user_data_path, user_state_path
from PySide6.QtCore import QSettings, QTimer
from PySide6.QtGui import QCloseEvent, QFont, QFontDatabase, QIcon
from PySide6.QtWidgets import QApplication, QInputDialog
from shiboken6 import isValid

from app.all_labels import AllLabels
from app.appearance import Appearance
from app.calibrating import Calibrating
from app.charting import Charting
from app.clocking import Clocking
from app.describing import Describing
from app.device.budget import DeviceBudget
from app.device.front_end import DeviceFrontEnd
from app.device.front_end_tries import FrontEndTries
from app.device.tolerance import DeviceTolerance
from app.device.values import DeviceNumbers
from app.dialogs.about import AboutDialog
from app.dialogs.problems import ProblemsDialog
from app.doubting import Doubting
from app.examining import Examining
from app.fault_log import FaultLog, log_path
from app.files import Files
from app.finding import Finding
from app.jobs import Jobs
from app.label_menu import LabelMenu
from app.labelling import Labelling
from app.looking import Looking
from app.menus import Menus
from app.noding import Noding
from app.recordings_menu import RecordingsMenu
from app.sealing import Sealing
from app.seating import Seating
from app.study import published
from app.study.remembered import Remembered
from app.study.session import Session
from app.stylesheet import BODY_PX, ICONS
from app.window import Window
from app.workbench import Workbench

NAME = "plumbfall"
FONTS = Path(__file__).parent / "fonts"
LAST_STUDY = "last_study"


class Program:
    """One window and everything behind it. `home` takes the place of the user's own folders."""

    def __init__(self, application: QApplication, home: Path | None = None) -> None:
        config = home or user_config_path(NAME, appauthor=False)
        self.preferences = QSettings(str(config / "preferences.ini"), QSettings.Format.IniFormat)
        self._fault: ProblemsDialog | None = None
        self.window = Window()
        self.jobs = Jobs(self.window)
        self.faults = FaultLog(home / "faults.log" if home else log_path(), self._show_fault)
        self.appearance = Appearance(application, self.preferences, self.window)
        self.bench = Workbench(self.window, Session(), self.jobs)
        self.files = Files(self.bench, self.jobs, home or user_state_path(NAME, appauthor=False),
                           (home or user_data_path(NAME, appauthor=False)) / "demo", Remembered(config / "recipes"))
        self.labelling = Labelling(self.bench, self.preferences)
        self.doubting = Doubting(self.bench)
        self.clocking, self.all_labels = Clocking(self.bench), AllLabels(self.bench)
        self.labelling.clock_asked.connect(self.clocking.show)
        self.examining = Examining(self.bench)
        self.examining.problem.connect(lambda heading, problem: self.files.show_problems(heading, [problem]))
        self.calibrating = Calibrating(self.bench)
        self.seating = Seating(self.bench)
        self.window.trace.upright_asked.connect(self.seating.show)
        self.noding = Noding(self.bench, self.clocking.show)
        self.describing = Describing(self.bench)
        self.describing.sentences.connect(self.files.show_sentences)
        self.charting = Charting(self.bench, self.window.map_and_curve)
        self.device_numbers = DeviceNumbers(self.bench, self.window.device)
        self.device_budget = DeviceBudget(self.bench, self.window.device.budget)
        self.device_tolerance = DeviceTolerance(self.bench, self.window.device.tolerance)
        self.device_front_end = DeviceFrontEnd(self.bench, self.window.device.front_end)
        self.front_end_tries = FrontEndTries(self.bench, self.window.device.front_end)
        self.finding = Finding(self.bench)
        self.sealing = Sealing(self.bench)
        self.window.settings.find_asked.connect(self.finding.show)
        self.looking = Looking(self.bench, config / "presets")
        self.window.device.tolerance.event_chosen.connect(self.looking.open_event)
        self.front_end_tries.event_chosen.connect(self.looking.open_event)
        self.menus = Menus(self.window, self.bench, self.files, self.appearance, self.show_about)
        self.recordings_menu = RecordingsMenu(self.window, (
            ("Quality…", "Ctrl+Alt+Q", self.examining.show),
            ("Calibration and self-test…", "Ctrl+Alt+K", self.calibrating.show),
            ("Sealed set…", "Ctrl+Alt+S", self.sealing.show),
            ("How the sensor sat…", "Ctrl+Alt+A", self.seating.show),
            ("Look for lost recordings in a folder…", "Ctrl+Alt+F", self.files.elsewhere.ask_folder)),
                                            self.noding.menu)
        self.label_menu = LabelMenu(self.bench, self.files.label_files, self.doubting.show, self.clocking.show,
                                    self.all_labels.show)
        self.window.recordings.leave_out_asked.connect(self._ask_reason)
        self.window.close_asked.connect(self._closing)
        self.jobs.broke.connect(self.faults.write)
        for jobs in (self.looking.jobs, self.doubting.jobs, self.examining.jobs, self.calibrating.jobs,
                     self.finding.jobs, self.files.copies):
            jobs.broke.connect(self.faults.write)
        self.device_tolerance.jobs.broke.connect(self.faults.write)
        self.device_front_end.broke.connect(self.faults.write)
        self.appearance.changed.connect(self.window.set_theme)
        self.files.opened.connect(lambda path: self.preferences.setValue(LAST_STUDY, str(path)))
        self.window.set_theme(self.appearance.theme)

    def open(self, paths: Sequence[Path]) -> None:
        """What was named; else what was never saved, else the last study, else the demo."""
        if paths:
            self.files.take(paths)
            return
        if self.files.recover_unsaved():
            return
        last = Path(str(self.preferences.value(LAST_STUDY, "")))
        if last.is_file():
            self.files.open_study(last)
        else:
            self.files.open_demo()

    def show(self) -> None:
        """The window, with the keyboard on the recordings."""
        self.window.show()
        self.window.recordings.table.setFocus()

    def show_about(self) -> None:
        AboutDialog(self.faults.path, self.window, published.beside(self.bench.session)).show()

    def _show_fault(self, sentence: str) -> None:
        # One is enough: a fault in painting would come again with every move of the mouse.
        if self._fault is None or not isValid(self._fault):
            self._fault = self.files.show_sentences("Something unexpected happened.", [sentence])

    def _ask_reason(self, names: tuple[str, ...]) -> None:
        which = names[0] if len(names) == 1 else f"{len(names)} recordings"
        dialog = QInputDialog(self.window)
        dialog.setWindowTitle("Leave out of the score")
        dialog.setLabelText(f"Why is {which} left out? The reason stands beside the score.")
        dialog.textValueSelected.connect(
            lambda reason: self.bench.leave_out(names, " ".join(reason.split()) or "no reason given"))
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def _closing(self, event: QCloseEvent) -> None:
        if not self.files.may_go():
            event.ignore()
            return
        self.charting.close()
        self.finding.close()
        self.device_tolerance.close()
        self.device_front_end.close()
        self.front_end_tries.close()
        self.sealing.close()
        self.jobs.close()
        self.looking.close()
        self.files.close()
        self.doubting.close()
        self.clocking.close()
        self.all_labels.close()
        self.examining.close()
        self.calibrating.close()
        self.seating.close()
        self.window.trace.playback.stop()


def make_application(arguments: Sequence[str]) -> QApplication:
    """The application, named and dressed."""
    application = QApplication(list(arguments))
    dress(application)
    return application


def dress(application: QApplication) -> None:
    """Name, style and font."""
    application.setApplicationName(NAME)
    application.setApplicationDisplayName("Plumbfall")
    application.setDesktopFileName(NAME)
    application.setWindowIcon(QIcon(str(ICONS / "plumbfall.svg")))
    application.setStyle("Fusion")
    application.setFont(own_font())


def own_font() -> QFont:
    """Figures of one width, the same on every machine; the system's sans where the font can't load."""
    families: list[str] = []
    for path in sorted(FONTS.glob("*.otf")):
        families += QFontDatabase.applicationFontFamilies(QFontDatabase.addApplicationFont(str(path)))
    font = QFont(families[0]) if families else QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont)
    font.setPixelSize(BODY_PX)
    return font


def open_window(words: Sequence[str]) -> int:
    """Open the window on the files and folders named, and stay until it is closed."""
    application = make_application([NAME, *words])
    program = Program(application)
    program.faults.install()
    program.show()
    QTimer.singleShot(0, lambda: program.open([Path(word) for word in words]))
    return application.exec()

