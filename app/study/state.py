"""What a study is at one moment. Nothing here changes: an action makes a new one, so undo comes free."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from data.parts.part_file import PartFile
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recipe.sections import Axes
from data.recordings.model import About, Calibration, Label, Shift, Trim
from data.study.intended_use import IntendedUse
from data.study.seal_record import SealRecord
from data.study.tuned_record import TunedRecord
from detect.device.quantities import Values
from detect.device.quantity_table import UNCHANGED
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS, Settings


@dataclass(frozen=True)
class Item:
    """A recording of the study without its samples: whereabouts, what is known of it, its labels.

    `name` is unique in the study. `path` is absolute while the study is open. `recipe` is how the file is read,
    `rate_hz` the nominal rate a person decided on where its stamps left that open. `refused` says why a file could
    not be read (it stays listed), `left_out` why a readable one is kept out of the score; empty text means neither.
    `trim` is what of its ends is not fed to the rule.
    """

    name: str
    path: str
    sha256: str = ""
    about: About = field(default_factory=About)
    labels: tuple[Label, ...] = ()
    left_out: str = ""
    refused: str = ""
    recipe: Recipe = field(default_factory=Recipe)
    rate_hz: float | None = None
    trim: Trim = field(default_factory=Trim)
    more: tuple[str, ...] = ()
    """Files that continue the first."""
    group: str = ""
    """What the nodes of one recording have in common; empty where it is one node."""
    clock: Shift = field(default_factory=Shift)
    """The clock that labels came by, against the recording's own; its labels stand on its own."""
    calibration: Calibration | None = None
    """What makes its node's g true; applied to what the file holds, never to what is calibrated already."""
    axes: Axes | None = None
    """The sensor's orientation, where that was said after the file was read: in place of what its recipe says."""

    @property
    def scored(self) -> bool:
        return not (self.left_out or self.refused)


@dataclass(frozen=True)
class Widening:
    """How far from a fall's labelled interval an alarm may lie and still be that fall's, seconds."""

    before_s: float = 0.5
    after_s: float = 1.0


USUAL_LOSS_LIMIT = 0.01
"""Share of a node's samples that may be lost while they are recorded; a choice, no source."""


@dataclass(frozen=True)
class KeptSettings:
    """Settings set aside in the history under a note, with the front end they were for and the matrix they had."""

    note: str
    settings: Settings
    front_end: FrontEnd
    counts: tuple[int, int, int, int]
    """tp, fn, fp, tn."""


@dataclass(frozen=True)
class Study:
    """Everything saved together. `mark` holds the settings of the last export, or those marked by hand.

    `settings` are those of `side`, "A" or "B"; `other` those of the other side, None while nothing is compared.
    """

    title: str = "New study"
    items: tuple[Item, ...] = ()
    front_end: FrontEnd = field(default_factory=FrontEnd)
    settings: Settings = DEFAULTS
    widening: Widening = field(default_factory=Widening)
    mark: Settings | None = None
    notes: str = ""
    """What stands beside the study's name: where it comes from, that it is synthetic."""
    side: str = "A"
    other: Settings | None = None
    kept: tuple[KeptSettings, ...] = ()
    annotator: str | None = None
    """Whose labels are scored: empty text means those that name nobody; None everybody's."""
    node: str = ""
    """Of recordings with several nodes the one scored, or "any"; empty: the first."""
    sealed: tuple[str, ...] = ()
    """People put aside: none of their recordings is among `items`."""
    device: Values = UNCHANGED
    """The numbers of the device around the rule."""
    under_seal: tuple[Item, ...] = ()
    """Their recordings; `sealing.parted` keeps them apart."""
    seal: SealRecord = field(default_factory=SealRecord)
    """When they were sealed, and every opening; no step of the history."""
    tuned: tuple[TunedRecord, ...] = ()
    """What searches found whose settings were used, the latest last."""
    intended_use: IntendedUse = field(default_factory=IntendedUse)
    parts: tuple[PartFile, ...] = ()
    """Sensor parts of one's own to compare, each under a name of its own."""
    loss_limit: float = USUAL_LOSS_LIMIT
    """A node that lost more of its samples is shown in red while it is recorded, and named afterwards."""

    @property
    def scored_by(self) -> tuple[object, ...]:
        """What the score hangs on: studies with equal ones have the same."""
        return self.items, self.settings, self.front_end, self.widening, self.annotator, self.node

    @property
    def other_side(self) -> str:
        return "B" if self.side == "A" else "A"

    def item(self, name: str) -> Item | None:
        return next((item for item in self.items if item.name == name), None)

    def with_item(self, changed: Item) -> Study:
        return replace(self, items=tuple(changed if item.name == changed.name else item for item in self.items))


@dataclass(frozen=True)
class Changed:
    """The study after an action on several recordings, and why some of these were left as they are."""

    study: Study
    problems: tuple[Problem, ...]
