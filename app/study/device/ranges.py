"""A range that is switched while running, for the study in hand: run, told as rows and as JSON."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

from app.study.device.material import InHand, material_of, recorded
from app.study.device.what_if_tables import strays_of
from app.study.pipeline import Stopped
from app.study.readout import percent
from app.study.state import Study
from app.words import GAP
from data.problem import Problem
from detect.device.part import in_words
from detect.device.range_scores import RangeScore, compare
from detect.device.ranges import BOTH, Switching, switching
from detect.intervals import Estimate
from detect.settings import BadSetting
from detect.workers import Cancelled

TITLES = ("", "sensitivity", "specificity", "strays", "clipped falls", "in high range", "switches an hour", "lost",
          "remark")


@dataclass(frozen=True, eq=False)
class RangesView:
    """The part that switches, then its ranges kept, on the study as it was then."""

    study: Study
    part: Switching
    scores: tuple[RangeScore, ...]

    def stands_for(self, study: Study) -> bool:
        """Whether another run would say the same."""
        mine, other = self.study, study
        return (other.items is mine.items and other.settings == mine.settings and other.front_end == mine.front_end
                and other.widening == mine.widening and other.node == mine.node and other.annotator == mine.annotator
                and all(other.device[key] == mine.device[key] for key in mine.device if key.startswith("ranges.")))


def run(hand: InHand, progress: Callable[[float], None] | None = None,
        cancelled: Callable[[], bool] | None = None) -> RangesView:
    """Raises Stopped, Problem."""
    study = hand.study
    try:
        part = switching(study.device, study.front_end)
        return RangesView(study, part, compare(material_of(hand), recorded(hand), part, study.settings,
                                               progress, cancelled))
    except Cancelled:
        raise Stopped from None
    except BadSetting as bad:
        raise Problem("bad_setting", f"{bad.key} = {bad.value}: {bad.message}", bad.remedy) from None


def headline(view: RangesView) -> str:
    """What the rule sees of it."""
    cost = " Each sample is read twice." if view.part.way == BOTH else ""
    return f"One stream to the rule: {in_words(view.part.stream)}.{cost}"


def row_texts(one: RangeScore) -> tuple[str, ...]:
    """Under TITLES."""
    if one.figures is None:
        return one.name, "refused", "", "", "", "", "", "", one.doubt
    return (one.name, percent(one.figures.sensitivity), percent(one.figures.specificity),
            str(strays_of(one.figures)), f"{100 * one.clipped / one.falls:.0f}{GAP}%" if one.falls else "no falls",
            f"{100 * one.high_share:.1f}{GAP}%", f"{one.switches_per_h:.0f}", f"{100 * one.lost_share:.2g}{GAP}%",
            one.doubt)


def as_text(view: RangesView) -> str:
    """Tab-separated, under a heading."""
    lines = [TITLES, *map(row_texts, view.scores)]
    return headline(view) + "\n" + "".join("\t".join(" ".join(text.split()) for text in line) + "\n" for line in lines)


def plain(view: RangesView) -> dict[str, Any]:
    """For JSON."""
    return {"study": view.study.title, "part": asdict(view.part), "stream": view.part.stream.plain(),
            "scores": [_plain(one) for one in view.scores]}


def _plain(one: RangeScore) -> dict[str, Any]:
    figures = one.figures
    m = None if figures is None else figures.matrix
    return {"name": one.name, "matrix": None if m is None else {"tp": m.tp, "fn": m.fn, "fp": m.fp, "tn": m.tn},
            "sensitivity": None if figures is None else _estimate(figures.sensitivity),
            "specificity": None if figures is None else _estimate(figures.specificity),
            "stray": None if figures is None else {"alarms": strays_of(figures),
                                                   "hours": sum(stray.hours for stray in figures.strays)},
            "clipped_falls": {"clipped": one.clipped, "falls": one.falls}, "high_share": one.high_share,
            "switches_per_h": one.switches_per_h, "lost_share": one.lost_share, "warning": one.doubt or None}


def _estimate(one: Estimate | None) -> dict[str, float | None]:
    return {"value": None, "low": None, "high": None} if one is None \
        else {"value": one.value, "low": one.low, "high": one.high}
