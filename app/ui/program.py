"""From a command line to an open window: the application, its font, its places on the disk, the parts tied together."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from platformdirs import user_config_path, user_data_path, user_state_path
from PySide6.QtCore import QSettings, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QFont, QFontDatabase, QIcon
from PySide6.QtWidgets import QApplication, QInputDialog, QMenu
from shiboken6 import isValid

from app import number_style
from app.formatting import which
from app.study import actions, presets
from app.study.importing.sources import Remembered
from app.study.results.standing_warnings import CHOOSE_ANNOTATOR, ONE_RATE, PROPOSE, SEAL
from app.study.session import Session
from app.ui.about import AboutDialog
from app.ui.analysis.chart_controller import ChartController
from app.ui.analysis.controller import AnalysisController
from app.ui.capture.controller import CaptureController
from app.ui.capture.worn_table import forget_person
from app.ui.controller import Controllers
from app.ui.device.window import Device
from app.ui.fault_log import FaultLog, log_path
from app.ui.files.open_save import Files
from app.ui.help import Help
from app.ui.labels.all_labels import AllLabels
from app.ui.labels.check_labels import CheckLabels
from app.ui.labels.controller import LabelController
from app.ui.labels.menu import SCORE_LABELS_OF, LabelMenu
from app.ui.labels.onsets import OnsetController
from app.ui.labels.time_offset import TimeOffset
from app.ui.main_window import MainWindow
from app.ui.menu_bar import MenuBar
from app.ui.preferences import Preferences, keep_layout, restore_layout, scale_by, style_of
from app.ui.recordings.calibration import CalibrationController
from app.ui.recordings.orientation import Orientation
from app.ui.recordings.person_deletion import PersonDeletion
from app.ui.recordings.properties import Properties
from app.ui.recordings.quality import QualityController
from app.ui.report.report_dialog import ReportController
from app.ui.sealed.controller import SealController
from app.ui.theme.stylesheet import BODY_PX, ICONS, Appearance
from app.ui.trace.nodes import NodesController
from app.ui.tuning.carry_over import CarryOver
from app.ui.tuning.controller import FindSettings
from app.ui.widgets.problem_dialog import ProblemsDialog
from app.ui.workbench import Workbench

NAME = "plumbfall"
FONTS = Path(__file__).parent / "theme" / "fonts"
LAST_STUDY = "last_study"


class Program:
    """One window and everything behind it. `home` takes the place of the user's own folders."""

    def __init__(self, application: QApplication, home: Path | None = None) -> None:
        config = home or user_config_path(NAME, appauthor=False)
        self.preferences = preferences_in(config)
        number_style.use(style_of(self.preferences))
        self._fault: ProblemsDialog | None = None
        self.window = MainWindow()
        self.faults = FaultLog(home / "faults.log" if home else log_path(), self._show_fault)
        self.controllers = Controllers(self.window, self.faults)
        self.jobs = self.controllers.jobs
        self.appearance = Appearance(application, self.preferences)
        self.bench = Workbench(self.window, Session(), self.controllers)
        self.files = Files(self.bench, home or user_state_path(NAME, appauthor=False),
                           (home or user_data_path(NAME, appauthor=False)) / "demo",
                           Remembered(config / "recipes"), self.preferences)
        self.labelling = LabelController(self.bench, self.preferences)
        self.doubting = CheckLabels(self.bench)
        self.clocking, self.all_labels = TimeOffset(self.bench), AllLabels(self.bench)
        self.labelling.clock_asked.connect(self.clocking.show)
        self.examining = QualityController(self.bench)
        self.calibrating = CalibrationController(self.bench)
        self.seating = Orientation(self.bench)
        self.window.trace.upright_asked.connect(self.seating.show)
        self.noding = NodesController(self.bench, self.clocking.show)
        self.describing = Properties(self.bench)
        self.charting = ChartController(self.bench, self.window.map_and_curve)
        self.device = Device(self.bench, self.preferences)
        self.finding = FindSettings(self.bench, preferences=self.preferences)
        self.carrying = CarryOver(self.bench)
        self.sealing = SealController(self.bench)
        self.preferring = Preferences(self.bench, self.preferences, self.appearance)
        self.helping = Help(self.bench)
        restore_layout(self.window, self.preferences)
        self.reporting = ReportController(self.bench, os.cpu_count() or 1)
        self.capturing = CaptureController(self.bench, self.preferences, home or user_data_path(NAME, appauthor=False),
                                           self.files.place_for_own)
        self.files.study_is_free = self.capturing.leaving.may_change_study
        self.deleting = PersonDeletion(self.bench, self.files.copies, self.capturing.busy,
                                       lambda person: forget_person(self.preferences, person))
        self.window.settings.find_asked.connect(self.finding.show)
        self.finding.action_asked.connect(self._act_on_warning)
        self.finding.recordings_asked.connect(self.window.recordings.show_only)
        self.window.score.labels_asked.connect(self.files.label_files.ask_table)
        self.looking = AnalysisController(self.bench, config / "presets")
        self.device.event_chosen.connect(self.looking.open_event)
        self.onsets = OnsetController(self.bench)
        self.label_menu = LabelMenu(self.bench, self.files.label_files, self.doubting.show, self.clocking.show,
                                    self.all_labels.show, self.onsets)
        self.menus = MenuBar(self.window, self.bench, self.files, self.appearance, self.show_about, self.device.show,
                             self.reporting.show, self.preferring.show, self.helping.show, self.carrying.show, (
            ("Record from boards…", "Ctrl+R", self.capturing.show),
            ("Check quality…", "Ctrl+Alt+Q", self.examining.show),
            ("Calibration and self-test…", "Ctrl+Alt+K", self.calibrating.show),
            ("Sealed set…", "Ctrl+Alt+S", self.sealing.show),
            ("Delete a person's recordings…", "Ctrl+Alt+X", self.deleting.ask),
            ("Sensor orientation…", "Ctrl+Alt+A", self.seating.show),
            ("Locate missing recordings…", "Ctrl+Alt+F", self.files.elsewhere.ask_folder)),
            self.label_menu.menu, self.noding.menu)
        self.window.recordings.leave_out_asked.connect(self._ask_reason)
        self.window.close_asked.connect(self._closing)
        self.window.toolbar.warnings_asked.connect(self._show_warnings)
        self.window.score.warnings.action_asked.connect(self._act_on_warning)
        self.files.opened.connect(lambda path: self.preferences.setValue(LAST_STUDY, str(path)))

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
        AboutDialog(self.faults.path, self.window, presets.beside(self.bench.session)).show()

    def _show_warnings(self) -> None:
        """Every warning in full, above the figures."""
        warnings = self.window.score.warnings
        warnings.open_all()
        warnings.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _act_on_warning(self, action: str) -> None:
        """What one click does about a warning; then what was done and what remains."""
        if action == SEAL:
            self.sealing.show()
        elif action == CHOOSE_ANNOTATOR:
            self.label_menu.fill()
            whose = next(one for one in self.label_menu.menu.actions() if one.text() == SCORE_LABELS_OF).menu()
            assert isinstance(whose, QMenu)
            whose.popup(self.window.score.warnings.mapToGlobal(self.window.score.warnings.rect().bottomLeft()))
        elif action == PROPOSE:
            self.onsets.propose()
        elif action == ONE_RATE:
            self._bring_to_one_rate()

    def _bring_to_one_rate(self) -> None:
        session = self.bench.session
        lowest = min(one.rate_hz for one in session.library.values())
        self.looking.try_step(lambda study: actions.set_front_end(study, replace(study.front_end, rate_hz=lowest)),
                              f"all to {lowest:g} Hz")
        self.window.status.show_message(f"All recordings are read at {lowest:g} Hz now. What remains is the loggers' "
                                        "bandwidth: see the warnings above the figures.")

    def _show_fault(self, sentence: str) -> None:
        # One is enough: a fault in painting would come again with every move of the mouse.
        if self._fault is None or not isValid(self._fault):
            self._fault = self.controllers.show_sentences("An unexpected error occurred.", [sentence])

    def _ask_reason(self, names: tuple[str, ...]) -> None:
        dialog = QInputDialog(self.window)
        dialog.setWindowTitle("Leave out of score")
        dialog.setLabelText(f"Why is {which(names)} left out? The reason is shown beside the score.")
        dialog.textValueSelected.connect(
            lambda reason: self.bench.leave_out(names, " ".join(reason.split()) or "no reason given"))
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def _closing(self, event: QCloseEvent) -> None:
        if not self.capturing.leaving.may_go() or not self.files.may_go():
            event.ignore()
            return
        keep_layout(self.window, self.preferences)
        self.controllers.close()
        self.appearance.stop()
        self.window.trace.playback.stop()


def preferences_in(folder: Path) -> QSettings:
    return QSettings(str(folder / "preferences.ini"), QSettings.Format.IniFormat)


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
    scale_by(preferences_in(user_config_path(NAME, appauthor=False)))
    application = make_application([NAME, *words])
    program = Program(application)
    program.faults.install()
    program.show()
    QTimer.singleShot(0, lambda: program.open([Path(word) for word in words]))
    return application.exec()
