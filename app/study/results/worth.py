"""What settings that a search found are worth: on people who were left out of it first, on those it was tuned on
beside that, and on sealed people where the seal was opened for just these settings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from app.formatting import MINUS, hours, part, plural, spoken
from app.study.report.digests import SCORING, STUDY_WIDE
from app.study.results.content import FigureCell, ScoreView, WorthView
from app.study.results.people_figures import interval_plain, intervals_by_people, of_people
from app.study.results.readout import figure_cells
from app.study.sealed import sealed_set
from app.study.state import Study
from app.study.storage.study_files import full_front_end
from data.study.seal_record import SealEntry
from data.study.tuned_record import PersonCounts, TunedRecord
from detect.firmware.header.identity import identity
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import Settings, from_plain
from detect.scoring.figures import Figures, figures_of
from detect.scoring.new_group import NewGroup, new_group
from detect.scoring.score import Matrix

SENSOR = "sensor"
GROUP_FIGURES = ("sensitivity", "specificity", "youden_j")


@dataclass(frozen=True)
class Worth:
    """`changed`: names of settings that are others than the search found; `stale`: "recordings", "labels" and words of
    `digests.SCORING`, where these are others than it was tuned on. `sealed_said`: what openings of the seal for just
    these settings came to. `sealed`: people by now."""

    record: TunedRecord
    changed: tuple[str, ...]
    stale: tuple[str, ...]
    sealed_said: str
    sealed: tuple[str, ...]

    @property
    def people(self) -> tuple[str, ...]:
        """Who it was tuned on, without those sealed since: nobody sealed is named."""
        return tuple(one.person for one in self.record.people if one.person not in self.sealed)

    @property
    def left_out(self) -> tuple[tuple[PersonCounts, tuple[int, int, int, int]], ...]:
        """Of them those who could be left out, each with (tp, fn, fp, tn) under settings found without them."""
        return tuple((one, one.left_out) for one in self.record.people
                     if one.left_out is not None and one.person not in self.sealed)


def worth_of(study: Study, settings: Settings, front_end: FrontEnd, digests: tuple[str, str],
             scoring: Mapping[str, str]) -> Worth | None:
    """None where no search found these settings, nor those they were changed from. `digests`: of the recordings and
    the labels as they are now; `scoring`: of how these are scored. A record of before that was kept says nothing of
    it."""
    found = _record_for(study.tuned, settings, front_end)
    if found is None:
        return None
    record, changed = found
    then = record.recordings_sha256, record.labels_sha256
    stale = tuple(name for name, old, new in zip(("recordings", "labels"), then, digests, strict=True) if old != new)
    comparable = STUDY_WIDE if "recordings" in stale else SCORING  # of other recordings everything else is other too
    stale += tuple(SCORING[key] for key in comparable if record.scoring.get(key, scoring[key]) != scoring[key])
    return Worth(record, changed, stale, sealed_said(study, settings, front_end), study.sealed)


def openings_of(study: Study, settings: Settings, front_end: FrontEnd) -> tuple[SealEntry, ...]:
    """Openings of the seal that scored just these settings."""
    if not study.seal.openings:
        return ()
    own = f"{identity(rule_of(settings, front_end), front_end):08X}"
    return tuple(one for one in study.seal.openings if one.identity == own)


def _record_for(records: Sequence[TunedRecord], settings: Settings,
                front_end: FrontEnd) -> tuple[TunedRecord, tuple[str, ...]] | None:
    """The latest of those nearest to the settings, and what was changed since. A record has nothing to say where all
    that it moved was taken back, or where of several none is left."""
    best: tuple[TunedRecord, tuple[str, ...]] | None = None
    for record in reversed(records):
        found = found_settings(record)
        others = [key for key in settings if settings[key] != found[key]]
        sensor = [] if full_front_end(record.front_end) == front_end else [SENSOR]
        changed = (*(spoken(key) for key in others), *sensor)
        none_left = set(record.tuned) <= set(others)
        if changed and none_left and (len(record.tuned) != 1 or _taken_back(record, settings)):
            continue
        if best is None or len(changed) < len(best[1]):
            best = record, changed
    return best


def _taken_back(record: TunedRecord, settings: Settings) -> bool:
    plain = settings.plain()
    return all(plain[key] == record.before.get(key) for key in record.tuned)


def found_settings(record: TunedRecord) -> Settings:
    return from_plain(record.settings)[0]


def left_out_cells(record: TunedRecord) -> np.ndarray:
    """(P, 4) of those who could be left out: tp, fn, fp, tn under settings found without them."""
    return np.array([one.left_out for one in _left_out(record)], dtype=np.int64).reshape(-1, 4)


def left_out_figures(record: TunedRecord) -> Figures:
    """Of all people left out together."""
    return figures_of(_matrix(left_out_cells(record)))


def in_sample_cells(record: TunedRecord) -> np.ndarray:
    return np.array([one.in_sample for one in record.people], dtype=np.int64).reshape(-1, 4)


def _left_out(record: TunedRecord) -> list[PersonCounts]:
    return [one for one in record.people if one.left_out is not None]


def _plain(people: Sequence[PersonCounts], cells: np.ndarray, at: int, seed: int) -> dict[str, Any]:
    return of_people(cells, sum(one.unlabelled[at] for one in people), sum(one.hours for one in people), seed)


@lru_cache(maxsize=32)
def _left_out_shown(record: tuple[PersonCounts, ...], seed: int) -> tuple[FigureCell, ...]:
    """Kept: they stay the same while settings move."""
    cells = np.array([one.left_out for one in record if one.left_out is not None], dtype=np.int64).reshape(-1, 4)
    return figure_cells(figures_of(_matrix(cells)), intervals_by_people(cells, seed))


def view(worth: Worth) -> WorthView:
    record = worth.record
    out, inside = left_out_cells(record), in_sample_cells(record)
    said = "People left out: no data: nobody could be left out" if not len(out) else \
        f"People left out: {counts_said(_matrix(out))}{_unlabelled(_left_out(record), 1)}"
    on = f"on the people it was tuned on: {counts_said(_matrix(inside))}{_unlabelled(record.people, 0)}"
    return WorthView(said, _left_out_shown(record.people, record.seed), on, _changed(worth),
                     worth.sealed_said, whom(worth), expected_said(record))


def beside_groups(worth: Worth) -> str:
    """Of whom figures by person or activity are, and what the same came to of people left out."""
    shown = view(worth)
    return f"Of the people the settings were tuned on. {shown.left_out}{', changed since' if shown.changed else ''}."


@lru_cache(maxsize=32)
def _expected(people: tuple[PersonCounts, ...], searched: tuple[tuple[int, int], ...]) -> NewGroup | None:
    """Of a new group of as many people; None where nobody could be left out."""
    cells = np.array([one.left_out for one in people if one.left_out is not None], dtype=np.int64).reshape(-1, 4)
    return new_group(cells, len(cells), np.array(searched).reshape(-1, 2)) if len(cells) > 1 else None


def expected_said(record: TunedRecord) -> tuple[str, ...]:
    """What to expect of a new group, how much choosing flatters, and how far people and searches differ."""
    found = _expected(record.people, record.searched)
    if found is None:
        return ()
    plain = expected_plain(record)
    assert plain is not None
    named = (("sensitivity", found.sensitivity), ("specificity", found.specificity), ("Youden's J", found.youden_j))
    ranges = ", ".join(f"{name} {interval.low:.2f} – {interval.high:.2f}" for name, interval in named
                       if interval is not None)
    said = [f"A new group of {found.people} people like these: {ranges} (95 % prediction interval; one of the mean is "
            "narrower)."] if ranges else []
    if plain["optimism"] is not None:
        said.append(f"Optimism of choosing: Youden's J is {plain['optimism']:.2f} better on the people tuned on than "
                    "on people left out.")
    apart = plain["searches"]
    if found.spread_youden_j is not None and apart is not None:
        said.append(f"Youden's J differs from person to person by {found.spread_youden_j:.2f} (standard deviation). "
                    f"Each of the {apart['number']} searches by itself, scored on people left out of it, comes to "
                    f"{apart['mean']:.2f} on average, from {apart['least']:.2f} to {apart['most']:.2f}.")
    return tuple(one.replace("-0.", f"{MINUS}0.") for one in said)


def expected_plain(record: TunedRecord) -> dict[str, Any] | None:
    """The same for JSON; null where nobody could be left out."""
    found = _expected(record.people, record.searched)
    if found is None:
        return None
    out, inside = left_out_cells(record).sum(axis=0), in_sample_cells(record).sum(axis=0)
    falls, others = int(out[0] + out[1]), int(out[2] + out[3])
    alone = [caught / falls - false / others for caught, false in record.searched] if falls and others else []
    j = [figures_of(Matrix(*map(int, cells))).youden_j for cells in (inside, out)]
    return {
        "new_group": {"people": found.people, **{name: interval_plain(getattr(found, name)) for name in GROUP_FIGURES}},
        "spread_of_people": {name: getattr(found, f"spread_{name}") for name in GROUP_FIGURES},
        "searches": {"number": len(alone), "mean": sum(alone) / len(alone), "least": min(alone),
                     "most": max(alone)} if alone else None,
        "optimism": None if j[0] is None or j[1] is None else j[0].value - j[1].value,
    }


def top_lines(view: ScoreView) -> tuple[str, str]:
    """The score in one line, and a smaller one: of settings that a search found, left out above, tuned on below."""
    if view.worth is None:
        return view.headline, ""
    counts = view.counts
    tuned_on = counts_said(Matrix(**counts))
    changed = " · changed since the search" if view.worth.changed else ""
    return view.worth.left_out.replace(", ", " · ", 1), f"on the people it was tuned on: {tuned_on}{changed}"


def counts_said(m: Matrix) -> str:
    """"caught 38 of 44, false alarms 5 of 60"."""
    return f"caught {part(m.tp, m.tp + m.fn)}, false alarms {part(m.fp, m.fp + m.tn)}"


def _unlabelled(people: Sequence[PersonCounts], at: int) -> str:
    time = sum(one.hours for one in people)
    if time < 0.05:
        return ""
    return f", {plural(sum(one.unlabelled[at] for one in people), 'unlabelled alarm')} in {hours(time)}"


def _matrix(cells: np.ndarray) -> Matrix:
    tp, fn, fp, tn = (int(n) for n in cells.sum(axis=0))
    return Matrix(tp, fn, fp, tn)


def _changed(worth: Worth) -> str:
    said = f"changed since the search: {', '.join((*worth.changed, *worth.stale))}" if worth.changed or worth.stale \
        else ""
    return said and f"{said}. The left-out figures are those of what the search found."


def sealed_said(study: Study, settings: Settings, front_end: FrontEnd) -> str:
    """What openings for just these settings came to, the first of which is worth most, and what was changed since of
    how they are scored."""
    openings = openings_of(study, settings, front_end)
    if not openings:
        return ""
    first = openings[0]
    caught, false = sealed_set.counts_in_words(first)
    again = f" (opened {len(openings)} times for these settings)" if len(openings) > 1 else ""
    now = sealed_set.scored_with(study)
    changed = [words for words, then in first.scored_with.items() if now.get(words) != then]
    since = f"; changed since that opening: {', '.join(changed)}" if changed else ""
    return f"Sealed people ({sealed_set.number_of(first)}): caught {caught}, false alarms {false}{again}{since}"


def whom(worth: Worth) -> str:
    """"Tuned on 8 people: W01, W02, …"."""
    named, number = [one for one in worth.people if one], len(worth.record.people)
    others = number - len(named)
    said = f"Tuned on {plural(number, 'person', 'people')}"
    if not named:
        return f"{said}, not named"
    return f"{said}: {', '.join(named)}" + (f" and {others} more" if others else "")


def lines(worth: Worth | None, sealed: str) -> tuple[str, ...]:
    """For an exported header, the left-out figures first. `sealed`: what openings of the seal came to, also where no
    search found the settings."""
    if worth is None:
        return ("No search found these settings in this study: on people left out of their choice there are no data.",
                *filter(None, [sealed]))
    seen = view(worth)
    figures = [f"  {cell.name}: {cell.text} ({cell.interval})" + (f", by people {cell.by_person}" if cell.by_person
                                                                 else "") for cell in seen.cells if cell.interval]
    return (f"{seen.whom}.", f"{seen.left_out}.", *figures, *seen.expected,
            *filter(None, [seen.changed, seen.sealed]))


def plain(worth: Worth | None) -> dict[str, Any] | None:
    """For JSON; null where no search found the settings."""
    if worth is None:
        return None
    record = worth.record
    return {
        "people": list(worth.people), "people_tuned_on": len(record.people), "goal": record.goal,
        "tuned": list(record.tuned), "tried": record.tried, "seed": record.seed, "recordings": record.recordings,
        "recordings_sha256": record.recordings_sha256, "labels_sha256": record.labels_sha256,
        "left_out": _plain(_left_out(record), left_out_cells(record), 1, record.seed),
        "in_sample": _plain(record.people, in_sample_cells(record), 0, record.seed),
        "expected": expected_plain(record),
        "changed_since": [*worth.changed, *worth.stale],
    }
