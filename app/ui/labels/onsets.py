"""Falls without times, from the menu: whole recordings as events, then onsets proposed; each is a step of the study."""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

from PySide6.QtWidgets import QInputDialog

from app.formatting import plural
from app.study.labels import onsets
from app.study.state import Changed
from app.ui.controller import Controller
from app.ui.workbench import Workbench


class OnsetController(Controller):
    background: ClassVar = {"onsets": "proposing onsets"}

    def __init__(self, bench: Workbench) -> None:
        super().__init__(bench, bench.jobs)

    def ask_whole(self) -> None:
        """Which activities are falls, of recordings that nobody labelled."""
        counts = onsets.without_labels(self.bench.session.study)
        if not counts:
            self.window.status.show_message("Every recording of which something is known has a label.")
            return
        missing = sum(not (item.labels or item.refused) for item in self.bench.session.study.items)
        some = ", ".join(f"{name} ({count})" for name, count in list(counts.items())[:12])
        more = f" and {len(counts) - 12} more" if len(counts) > 12 else ""
        dialog = QInputDialog(self.window)
        dialog.setWindowTitle("Label whole recordings")
        dialog.setLabelText(f"{plural(missing, 'recording')} without a label: {some}{more}.\n"
                            "Each becomes one event from end to end. Activities that are falls, with commas between, * "
                            "for any letters; or what another part of the name says of falls, such as kind=Fall:")
        like = [name for name in counts if name.rpartition("=")[2].lower().startswith("fall")]
        dialog.setTextValue(like[0] if len(like) == 1 else "F*")
        dialog.textValueSelected.connect(self.label_whole)
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def label_whole(self, said: str) -> None:
        field, _, after = said.rpartition("=")
        falls = tuple(part.strip() for part in after.split(",") if part.strip())
        before = self.bench.session.study
        study = onsets.label_whole(before, falls, field.strip())
        new = [item.labels[0] for item, old in zip(study.items, before.items, strict=True)
               if item.labels is not old.labels]
        self.bench.act(study, "label whole recordings")
        fell = sum(label.kind == "fall" for label in new)
        self.window.status.show_message(f"{plural(len(new), 'recording')} labelled from end to end, {fell} of them "
                                        f"{'a fall' if fell == 1 else 'falls'}.")

    def propose(self) -> None:
        """Times for falls that are whole recordings, computed beside the window."""
        study, library = self.bench.session.study, dict(self.bench.session.library)
        if not any(onsets.without_onset(label) for item in study.items for label in item.labels):
            self.window.status.show_message("Every fall has an onset.")
            return
        self.start("onsets", lambda progress, cancelled: onsets.propose_onsets(study, library), self._take)

    def _take(self, found: Changed) -> None:
        """The labels go into the study as it is now."""
        now, made = self.bench.session.study, 0
        for item in found.study.items:
            there = now.item(item.name)
            if there is not None and any(map(onsets.without_onset, there.labels)) \
                    and not any(map(onsets.without_onset, item.labels)):
                now = now.with_item(replace(there, labels=item.labels))
                made += 1
        self.bench.act(now, "propose onsets")
        self.window.status.show_message(f"{plural(made, 'onset')} proposed: confirm each in the label lane (Return), "
                                        "or correct it. Check labels… lists them.")
        if found.problems:
            self.show_problem("No onset is proposed for some falls.", *found.problems)
