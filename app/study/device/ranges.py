"""A range that is switched while running, for the open study: run, told as rows and as JSON."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from app.formatting import GAP, tabbed
from app.study.device.material import InHand, material_of, recorded
from app.study.pipeline import Cancelled, Progress
from app.study.results.readout import percent
from app.study.results.score_json import brief
from app.study.state import Study
from data.problem import Problem
from detect.device.part.part import in_words
from detect.device.part.ranges import BOTH, RangeScore, Switching, compare, switching
from detect.rule.settings import BadSetting

TITLES = ("ranges", "sensitivity", "specificity", "unlabelled alarms", "clipped falls", "in high range",
          "switches an hour", "lost", "remark")


@dataclass(frozen=True, eq=False)
class RangesView:
    """The part that switches, then its ranges kept, on the study as it was then."""

    study: Study
    part: Switching
    scores: tuple[RangeScore, ...]

    def stands_for(self, study: Study) -> bool:
        """Whether another run would say the same."""
        mine = self.study
        return study.scored_by == mine.scored_by and study.device.under("ranges.") == mine.device.under("ranges.")


def run(hand: InHand, progress: Progress | None = None, cancelled: Cancelled | None = None) -> RangesView:
    """Raises Stopped, Problem."""
    study = hand.study
    try:
        part = switching(study.device, study.front_end)
        return RangesView(study, part, compare(material_of(hand), recorded(hand), part, study.settings,
                                               progress, cancelled))
    except BadSetting as bad:
        raise Problem("bad_setting", f"{bad.key} = {bad.value}: {bad.message}", bad.remedy) from None


def headline(view: RangesView) -> str:
    """What the rule sees of it."""
    cost = " Each sample is read twice." if view.part.way == BOTH else ""
    doubts = dict.fromkeys(one.doubt for one in view.scores if one.doubt)
    limits = f"Beyond what the recordings hold: {next(iter(doubts))} " if doubts else ""
    return f"{limits}One stream to the rule: {in_words(view.part.stream)}.{cost} {ONLY_WHAT_IF}"


ONLY_WHAT_IF = ("A what-if: the exported C reads one range; a firmware that switches must make this stream itself.")


def row_texts(one: RangeScore) -> tuple[str, ...]:
    """Under TITLES."""
    if one.figures is None:
        return one.name, "refused", "", "", "", "", "", "", one.doubt
    clipped = f"{100 * one.clipped / one.falls:.0f}{GAP}%" if one.falls else "no falls"
    return (one.name, percent(one.figures.sensitivity), percent(one.figures.specificity),
            str(one.figures.unlabelled_alarms), clipped, f"{100 * one.high_share:.1f}{GAP}%",
            f"{one.switches_per_h:.0f}", f"{100 * one.lost_share:.2g}{GAP}%", one.doubt)


def as_text(view: RangesView) -> str:
    """Tab-separated, under a heading."""
    lines = [TITLES, *map(row_texts, view.scores)]
    return headline(view) + "\n" + tabbed([" ".join(text.split()) for text in line] for line in lines)


def plain(view: RangesView) -> dict[str, Any]:
    return {"study": view.study.title, "part": asdict(view.part), "stream": view.part.stream.plain(),
            "caution": ONLY_WHAT_IF,
            "scores": [{"name": one.name, **brief(one.figures),
                        "clipped_falls": {"clipped": one.clipped, "falls": one.falls}, "high_share": one.high_share,
                        "switches_per_h": one.switches_per_h, "lost_share": one.lost_share,
                        "warning": one.doubt or None} for one in view.scores]}
