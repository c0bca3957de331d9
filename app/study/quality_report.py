"""The quality of a study's recordings as a table: the same columns in the window and in a file."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from app.study import looked_over
from data.quality import Quality


@dataclass(frozen=True)
class Figure:
    """A column: a plain title, what it means, how a value reads, and by what it is sorted."""

    title: str
    means: str
    text: Callable[[Quality], str]
    key: Callable[[Quality], Any]
    number: bool = True


def _number(value: float | None, decimals: int, sign: bool = False) -> str:
    if value is None or value != value:
        return ""
    return f"{value:{'+' if sign and value else ''}.{decimals}f}".replace("-", "\u2212")


def _known(value: float | None) -> float | None:
    return None if value is None or value != value else abs(value)


def _some(value: float, decimals: int) -> str:
    """Nothing where there is nothing to tell."""
    return _number(value, decimals) if value else ""


FIGURES = (
    Figure("recording", "", lambda q: q.name, lambda q: q.name, number=False),
    Figure("found", "What there is to look at; empty where all is well",
           lambda q: ", ".join(f.kind for f in q.findings), lambda q: -len(q.findings), number=False),
    Figure("length s", "Seconds recorded, gaps left out", lambda q: _number(q.duration_s, 1), lambda q: q.duration_s),
    Figure("clipped s", "Seconds in which at least one axis stood at the sensor's limit",
           lambda q: _some(q.clipped_s, 2), lambda q: q.clipped_s),
    Figure("longest ms", "The longest time without a break that an axis stood at the limit",
           lambda q: _some(1000 * q.longest_clip_s, 0), lambda q: q.longest_clip_s),
    Figure("stuck s", "Seconds in which an axis stood still while another moved",
           lambda q: f"{q.stuck} {_number(q.stuck_s, 1)}" if q.stuck else "", lambda q: q.stuck_s),
    Figure("silent s", "Seconds in which all axes stood still between movements: nothing came from the sensor",
           lambda q: _some(q.frozen_s, 1), lambda q: q.frozen_s),
    Figure("missing s", "Seconds in gaps, where there are no samples", lambda q: _some(q.missing_s, 2),
           lambda q: q.missing_s),
    Figure("rate off %", "How far the clock that the time stamps show is off the nominal rate",
           lambda q: _number(100 * q.rate_error, 2, sign=True), lambda q: _known(q.rate_error)),
    Figure("at rest g", "|a| while nothing moves: 1 g where unit and calibration are right",
           lambda q: _number(q.rest_g, 3), lambda q: None if q.rest_g != q.rest_g else q.rest_g),
    Figure("noise mg", "How much an axis still moves at rest, root mean square of the quietest seconds",
           lambda q: _number(q.noise_mg, 1), lambda q: _known(q.noise_mg)),
    Figure("temperature", "By how much the file's temperature column changed from its first to its last tenth",
           lambda q: _number(q.temperature_drift, 1, sign=True), lambda q: _known(q.temperature_drift)),
    Figure("battery", "By how much the file's battery column changed from its first to its last tenth",
           lambda q: _number(q.battery_drift, 2, sign=True), lambda q: _known(q.battery_drift)),
)


def summary(found: Sequence[Quality]) -> str:
    """"183 of 470 recordings have something to look at: clipped 182, noise 22, gaps 1."."""
    if not found:
        return "There are no recordings yet."
    told = sum(not one.sound for one in found)
    if not told:
        return f"Nothing to look at in {len(found)} recordings."
    kinds = Counter(finding.kind for one in found for finding in one.findings)
    counted = ", ".join(f"{kind} {count}" for kind, count in kinds.most_common())
    return f"{told} of {len(found)} recordings {'has' if told == 1 else 'have'} something to look at: {counted}."


def as_csv(found: Sequence[Quality]) -> str:
    """A row a recording, values at full precision under the names that JSON has, the sentences last."""
    out = io.StringIO()
    rows = [looked_over.quality_plain(one) for one in found]
    keys = [key for key in rows[0] if key != "findings"] if rows else ["name"]
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*keys, "found", "sentences"])
    for row, one in zip(rows, found, strict=True):
        writer.writerow([*("" if row[key] is None else row[key] for key in keys),
                         ", ".join(f.kind for f in one.findings), " ".join(f.sentence for f in one.findings)])
    return out.getvalue()


def as_text(found: Sequence[Quality], title: str) -> str:
    """To be read: what there is to look at recording by recording, then the figures of all."""
    lines = [f"Quality of the recordings of {title}", "", summary(found), ""]
    for one in found:
        for finding in one.findings:
            where = "" if finding.at_s is None else f" (at {finding.at_s:.2f} s)"
            lines.append(f"{one.name}: {finding.sentence}{where}")
    lines += ["", "\t".join(figure.title for figure in FIGURES)]
    lines += ["\t".join(figure.text(one) for figure in FIGURES) for one in found]
    lines += ["", *(f"{figure.title}: {figure.means}." for figure in FIGURES if figure.means)]
    return "\n".join(lines) + "\n"
