"""What lessens the worth of every figure, above the figures: a title each, with what can be done about it."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence

from PySide6.QtCore import Signal

from app.study.results.content import StandingWarning
from app.study.results.standing_warnings import SHOW, in_line
from app.ui.widgets.layout import LinkedWords
from app.ui.widgets.tips import show_tip

MORE, DO, ALL = "more", "do", "all"

MOST_LINES = 3
"""So many lines leave the figures in view in the smallest window."""


class WarningsLabel(LinkedWords):
    """A title opens and closes what is wrong and what to do; beside it stands what one click does. A closed one is a
    line, and the least of many are a line together, so that the figures stay in view."""

    recordings_asked = Signal(str, tuple)
    """What they have in common, in words, and their names."""
    action_asked = Signal(str)
    """One of the actions of a warning, other than showing its recordings."""

    def __init__(self, opened: Iterable[str] = ()) -> None:
        """`opened`: keys of warnings that are open from the beginning."""
        super().__init__(wrap=True)
        self.setAccessibleName("Warnings that lessen every figure")
        self.setProperty("role", "caution")
        self._shown: tuple[StandingWarning, ...] = ()
        self._open = frozenset(opened)
        self._all = False
        self.linkActivated.connect(self._asked)
        self.hide()

    def show_warnings(self, found: Sequence[StandingWarning]) -> None:
        """The worst first. What was opened stays so as long as it is there."""
        if self._shown == tuple(found):
            return
        self._shown = tuple(found)
        self._write()

    def open_all(self) -> None:
        """Every warning in full."""
        self._open, self._all = frozenset(one.key for one in self._shown), True
        self._write()

    def as_text(self) -> str:
        """A warning a line: what is wrong, what to do, how many recordings are behind it."""
        lines = ["warning\tsentence\twhat to do\trecordings"]
        lines += [f"{one.key}\t{one.sentence}\t{one.remedy}\t{len(one.recordings)}" for one in self._shown]
        return "\n".join(lines) + "\n"

    def _write(self) -> None:
        shown = sorted(self._shown, key=lambda one: one.key not in self._open)
        least = 0 if self._all or len(shown) <= MOST_LINES else len(shown) - MOST_LINES + 1
        lines = [self._title(one) + (f"<br/>{html.escape(in_line(one))}" if one.key in self._open else "")
                 for one in shown[:len(shown) - least]]
        if least:
            lines.append(f'<a href="{ALL}:">{_whole(f"▸ {least} more")}</a>')
        said = "".join(f'<p style="margin-top:0; margin-bottom:1px">{one}</p>' for one in lines)
        if said != self.said():
            self.setText(said)
            show_tip(self, "\n\n".join(map(in_line, self._shown)))
            self.setVisible(bool(said))

    def _title(self, one: StandingWarning) -> str:
        sign = "▾" if one.key in self._open else "▸"
        said = f'<a href="{MORE}:{one.key}" style="text-decoration:none">{_whole(f"{sign} {one.title}")}</a>'
        if one.button:
            said += f' <a href="{DO}:{one.key}">{_whole(one.button)}</a>'
        return said

    def _asked(self, link: str) -> None:
        what, _, key = link.partition(":")
        if what == ALL:
            self._all = True
            self._write()
            return
        one = next(one for one in self._shown if one.key == key)
        if what == MORE:
            self._open ^= {key}
            self._write()
        elif one.action == SHOW:
            self.recordings_asked.emit(one.in_common, one.recordings)
        else:
            self.action_asked.emit(one.action)


def _whole(text: str) -> str:
    """Escaped, and not broken over two lines."""
    return html.escape(text).replace(" ", "&nbsp;")
