"""Labels set while boards are recorded: by buttons, keys or a board's button, each a mark in the raw capture."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.study.capture.raw_file import mark
from app.study.capture.volunteers import CAUTIONS

if TYPE_CHECKING:
    from app.ui.capture.controller import CaptureController


class LabelMarks:
    """Of one capture after the other. `asking`: the cautions are being asked, and a source that ends meanwhile waits
    for the answer."""

    def __init__(self, capture: CaptureController) -> None:
        self._capture = capture
        self.ended: dict[int, int] = {}
        """Numbers of the labels that are ended and stand, in the order in which they were ended: as the how manyth each
        was begun."""
        self._next = 0
        """Number of the next one that ends."""
        self._begun = 0
        self.open = ""
        self._last: tuple[str, str] | None = None
        """Kind and name of the label that was begun last."""
        self.asking = self._confirmed = False

    def clear(self) -> None:
        """Another capture begins."""
        self.ended, self.open, self._next, self._begun = {}, "", 0, 0

    @property
    def now(self) -> int:
        """As the how manyth the label that is open was begun, from 1; 0 for none."""
        return self._begun if self.open else 0

    @property
    def standing(self) -> frozenset[int]:
        """As the how manyth the labels were begun that were not taken back."""
        return frozenset((*self.ended.values(), self.now))

    def cautions_confirmed(self) -> bool:
        """Asked before the first fall, once while the window is open."""
        if not self._confirmed:
            self.asking = True
            self._confirmed = self._capture.confirm("Before the first fall", "\n\n".join(
                f"– {one}" for one in CAUTIONS) + "\n\nIs all of this so?")
            self.asking = False
        return self._confirmed

    def ask(self, kind: str, name: str) -> None:
        """A label begins with the click, whenever the cautions are answered; No takes it back."""
        before, number = self._last, self._next
        self.start(kind, name)
        if kind != "fall" or self.cautions_confirmed():
            return
        if self._next == number:
            self.undo()
        else:  # a board's button has ended it meanwhile
            self.withdraw(number)
        self._last = before

    def button(self, node: int, at_us: int) -> None:
        """A button of a board does what is next: end the trial or label that is open, start a trial, or the label that
        was begun last by hand."""
        trials = self._capture.volunteers
        if trials.session is not None:
            trials.button(at_us)
        elif self.open:
            self.end(at_us)
        else:
            kind, name = self._last or ("other", self._capture.dialog.name.currentText().strip() or "button")
            self.start(kind, name, at_us)

    def ask_end(self) -> None:
        if self._capture.volunteers.running:
            self._capture.volunteers.end()
        else:
            self.end()

    def start(self, kind: str, name: str, at_us: int | None = None) -> None:
        """`at_us`: when, by the capture's clock; None for now. What is open ends."""
        if self.open:
            self.end(at_us)
        self._mark("start", at_us, kind=kind, name=name)
        self.open, self._last = name, (kind, name)
        self._begun += 1
        self._capture.dialog.show_label(name)

    def end(self, at_us: int | None = None) -> int:
        """Its number in this capture."""
        self._mark("end", at_us)
        number = self._next
        self.ended[number] = self._begun
        self.open = ""
        self._next += 1
        self._capture.dialog.show_label("")
        return number

    def withdraw(self, number: int) -> None:
        """Take back one that was ended, wherever it stands."""
        if number in self.ended:
            self._mark("withdraw", number=number)
            del self.ended[number]

    def undo(self) -> None:
        """Take back the label that is open, else the last one. A trial whose label it was comes again."""
        if not self.open and not self.ended:
            return
        self._mark("undo")
        undone = None if self.open else self.ended.popitem()[0]
        self.open = ""
        self._capture.dialog.show_label("")
        self._capture.volunteers.undone(undone)

    def _mark(self, what: str, at_us: int | None = None, **said: object) -> None:
        self._capture.mark(mark(what, **said, **({} if at_us is None else {"at_us": at_us})))
