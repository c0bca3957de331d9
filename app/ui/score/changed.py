"""How many events came right or wrong since the reference; a click asks for their recordings."""

from __future__ import annotations

from PySide6.QtCore import Signal

from app.study.results.content import CHANGES
from app.ui.widgets.layout import LinkedWords
from app.ui.widgets.tips import show_tip

TIP = ("fixed: right now, and wrong under the reference; broken: the other way round. A click, or the word in the "
       "filter, lists their recordings.")


class ChangedLabel(LinkedWords):
    """"154 fixed, 7 broken": a link each, where there are any."""

    asked = Signal(str)
    """One of CHANGES."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Compared with the reference")
        self.setProperty("role", "strong")
        self.linkActivated.connect(self.asked)

    def show_changed(self, since: str) -> None:
        """As in "154 fixed, 7 broken"."""
        said = ", ".join(_link(part) for part in since.split(", "))
        if said != self.said():
            self.setText(said)
            show_tip(self, TIP if said != since else "")


def _link(part: str) -> str:
    number, _, word = part.rpartition(" ")
    return f'<a href="{word}">{part}</a>' if word in CHANGES and number != "0" else part
