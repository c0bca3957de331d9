"""A dialog that stays beside the window: made when it is first asked for, since most starts never want it."""

from __future__ import annotations

from functools import cached_property

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QPushButton, QVBoxLayout, QWidget

from app.workbench import Workbench


class Aside(QObject):
    """Says what the dialog is called, how large it is and what is in it; whoever derives from this fills it."""

    title = ""
    size = (760, 460)

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench)
        self.bench, self.window = bench, bench.window

    def content(self) -> QWidget:
        """What fills the dialog, wired."""
        raise NotImplementedError

    def buttons(self) -> tuple[QPushButton, ...]:
        """What stands beside Close."""
        return ()

    @cached_property
    def dialog(self) -> QDialog:
        dialog = QDialog(self.window)
        dialog.setWindowTitle(self.title)
        dialog.setModal(False)
        box = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        for button in (*self.buttons(), box.button(QDialogButtonBox.StandardButton.Close)):
            button.setAutoDefault(False)  # Enter belongs to the rows and fields
        for button in self.buttons():
            box.addButton(button, QDialogButtonBox.ButtonRole.ActionRole)
        box.rejected.connect(dialog.close)
        column = QVBoxLayout(dialog)
        column.setContentsMargins(16, 14, 16, 12)
        column.addWidget(self.content())
        column.addWidget(box)
        dialog.resize(*self.size)
        return dialog

    @property
    def made(self) -> bool:
        return "dialog" in self.__dict__

    @property
    def visible(self) -> bool:
        return self.made and self.dialog.isVisible()

    def bring(self) -> None:
        """In front, with what was in it."""
        self.dialog.show()
        self.dialog.raise_()

    def close(self) -> None:
        """The window goes."""
        if self.made:
            self.dialog.close()


