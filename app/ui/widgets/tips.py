"""What stands under the mouse, its figures as the person wants to read them."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from app.number_style import shown

_SAID = "tip_said"


def show_tip(widget: QWidget, text: str) -> None:
    """`text`: figures in the open form."""
    widget.setProperty(_SAID, text)
    widget.setToolTip(shown(text))


def tip_of(widget: QWidget) -> str:
    """As it was set, figures in the open form."""
    return str(widget.property(_SAID) or "")


def show_tip_anew(widget: QWidget) -> None:
    """After figures are to be shown otherwise."""
    said = tip_of(widget)
    if said:
        widget.setToolTip(shown(said))
