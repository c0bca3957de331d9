"""A recording as it is fed to the rule: calibrated, on the wearer's axes, without its trimmed ends."""

from __future__ import annotations

from dataclasses import replace

from app.study.state import Item
from app.study.trimming import trimmed
from data.axes import between, turned
from data.calibration import calibrated
from data.corrections import Calibration
from data.recording import Recording, Trim
from data.told import Axes

Worn = tuple[Calibration | None, Axes | None, Trim]
"""What of an item changes its samples between the file and the rule."""


def worn(item: Item) -> Worn:
    return item.calibration, item.axes, item.trim


def as_worn(item: Item, recording: Recording) -> Recording:
    """`recording`: as the item's recipe reads it. Raises Problem where one of the steps can't be done."""
    return trimmed(on_wearers_axes(item, calibrated(recording, item.calibration)), item.trim)


def on_wearers_axes(item: Item, recording: Recording) -> Recording:
    """Turned to where the item says that its sensor sat, where that was said after it was read."""
    if item.axes is None:
        return recording
    most = (1 << (item.recipe.front_end.bits - 1)) - 1 if item.recipe.front_end else 32767
    turn = between(item.recipe.axes, item.axes)
    return recording if turn is None else replace(recording, samples=turned(recording.samples, turn, most))
