"""What else tells falls from other activities, beside the score: a sentence each, and a way to the recordings."""

from __future__ import annotations

import html
from collections.abc import Sequence

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtWidgets import QLabel

from app.study.confounding import ConfoundRow


class CautionsLabel(QLabel):
    """Only what is strong is said; the others stand in the text that is copied."""

    recordings_asked = Signal(str, tuple)
    """What they have in common, in words, and their names."""

    def __init__(self) -> None:
        super().__init__(wordWrap=True)
        self.setAccessibleName("What else tells falls from other activities")
        self.setProperty("role", "caution")
        self.setTextFormat(Qt.TextFormat.RichText)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextBrowserInteraction)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._rows: tuple[ConfoundRow, ...] = ()
        self.linkActivated.connect(self._asked)
        self.hide()

    def show_sentences(self, sentences: Sequence[str]) -> None:
        """As long as nobody has said which recordings are behind them."""
        if tuple(row.sentence for row in self._rows if row.strong) != tuple(sentences):
            self.show_confounds([ConfoundRow("", sentence, True, None, "", ()) for sentence in sentences])

    def show_confounds(self, rows: Sequence[ConfoundRow]) -> None:
        if self._rows == tuple(rows):
            return
        self._rows = tuple(rows)
        said = "".join(f'<p style="margin-top:0; margin-bottom:5px">{html.escape(row.sentence)} {_link(row)}</p>'
                       for row in self._rows if row.strong)
        if said != self.text():
            self.setText(said)
            self.setVisible(bool(said))

    def changeEvent(self, event: QEvent) -> None:
        """A link keeps the colour it was written in: in another theme it is written anew."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.PaletteChange and self.text():
            text = self.text()
            self.clear()
            self.setText(text)

    def as_text(self) -> str:
        """Every confound, strong or not, as tab-separated text."""
        lines = ["confound\tAUC\tstrong\tsentence"]
        lines += [f"{row.key}\t{'no data' if row.auc is None else f'{row.auc:.2f}'}\t{'yes' if row.strong else 'no'}\t"
                  f"{row.sentence}" for row in self._rows]
        return "\n".join(lines) + "\n"

    def _asked(self, key: str) -> None:
        row = next(row for row in self._rows if row.key == key)
        self.recordings_asked.emit(row.words, row.recordings)


def _link(row: ConfoundRow) -> str:
    many = len(row.recordings)
    return f'<a href="{row.key}">Show {many} recording{"" if many == 1 else "s"}</a>' if many else ""
