"""The first pages of a report: what it is worth, what the product is for, what stands against the figures,
and what they come from: sensor, people, recordings, their quality, what was left out, label checks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict

from app.formatting import GAP, decimal, duration, part, plural, sensor
from app.study.device import requirements
from app.study.device.part import number_rows, part_view
from app.study.recordings import checks
from app.study.recordings.trim import in_words, trimmed
from app.study.report.page import Headline, Section, Table
from app.study.report.plots import Bar, Plot, intervals
from app.study.report.versions import versions
from app.study.results import worth
from app.study.results.content import FigureCell, ScoreView, WorthView
from app.study.results.standing_warnings import in_line
from app.study.sealed import sealed_set
from app.study.session import Session
from data.study.intended_use import QUESTIONS
from detect.scoring.figures import figures_of
from detect.scoring.intervals import Estimate
from detect.scoring.score import Matrix

NOT_STATED = "Not stated."
TITLES = {"product": "Product", "purpose": "Intended use", "wearer": "Wearer", "placement": "Placement",
          "requirements": "Further requirements", "exclusions": "Exclusions", "protocol": "Protocol of the recordings"}
LEAST_OF_ONE = 4
"""Missed falls of one person below this say little of that person."""
NEVER_LEFT_OUT = ("No search found these settings in this study, so nobody was left out of their choice: what they "
                  "are worth on other people is not known. The figures are of people on whom settings may have been "
                  "chosen.")


def headlines(view: ScoreView) -> tuple[Headline, ...]:
    """Sensitivity and specificity, on people left out first."""
    found = []
    if view.worth is not None:
        changed = ", changed since the search" if view.worth.changed else ""
        found += _first_two(view.worth.cells, f"people left out{changed}")
    of = "the people it was tuned on" if view.worth is not None else "the people at hand, nobody left out"
    return (*found, *_first_two(view.cells, of))


def _first_two(cells: tuple[FigureCell, ...], of: str) -> list[Headline]:
    return [Headline(cell.name, cell.text, of,
                     f"{cell.by_person} by people" if "–" in cell.by_person else cell.interval) for cell in cells[:2]]


def figures(session: Session) -> Section:
    """What the settings are worth: left out, sealed, and on the people tuned on."""
    view, study = session.results().score, session.study
    tables, plots = [], []
    if view.worth is not None:
        tables.append(_figures("left_out", "On people left out", view.worth.cells))
        tables.append(_by_person(session))
    title = "On the people it was tuned on" if view.worth is not None else "On the people at hand"
    tables.append(_figures("in_sample", title, view.cells))
    plots.append(_plot(session, view))
    tables.append(Table("sealed_openings", "Openings of the sealed set", (
        "opened", "people", "recordings", "falls caught", "false alarms", "settings' CRC-32"), tuple(
        (one.when, str(len(one.people)), str(one.recordings), *sealed_set.counts_in_words(one), one.identity)
        for one in study.seal.openings), (1, 2), sealed_set.COPIES if study.seal.entries else ""))
    said = _worth(session, view.worth) if view.worth is not None else (
        NEVER_LEFT_OUT, f"{view.headline.replace(' · ', ', ')}.")
    sealed = sealed_set.opened_sentence(study) or "Nobody is sealed: there are no people whom no choice has seen."
    unopened = ("No figure here is of people whom no choice has seen: the sealed set is unopened.",) \
        if study.sealed and not study.seal.openings else ()
    return Section("figures", "What it is worth", (*said, sealed), tuple(tables), tuple(plots),
                   tuple(sealed_set.remarks(study)), unopened)


def _worth(session: Session, view: WorthView) -> tuple[str, ...]:
    first = view.tuned_on[0].upper() + view.tuned_on[1:]
    every = (view.left_out, view.changed, *_whose(session), first, view.whom, *view.expected, view.sealed)
    return tuple(f"{one.rstrip('.')}." for one in every if one)


def _whose(session: Session) -> Iterator[str]:
    """On how many people the share of falls caught stands, and whether one of them has most that were missed."""
    found = session.worth()
    assert found is not None
    missed = {one.person or "not named": fn for one, (tp, fn, _, _) in found.left_out if tp + fn}
    if not missed:
        return
    yield f"Falls are of {part(len(missed), len(found.people))} people: sensitivity stands on them alone"
    person, most = max(missed.items(), key=lambda one: one[1])
    if len(missed) > 1 and most >= LEAST_OF_ONE and 2 * most >= sum(missed.values()):
        yield f"{part(most, sum(missed.values()))} falls missed of people left out are of {person} alone"


def _figures(key: str, title: str, cells: tuple[FigureCell, ...]) -> Table:
    return Table(f"figures_{key}", title, ("figure", "value", "95 % interval", "by people"),
                 tuple((cell.name, cell.text, cell.interval, cell.by_person) for cell in cells), (1, 2, 3),
                 "By people: whole people drawn again, because two falls of one person are not two independent falls. "
                 "Precision and F1 hold for this mix of falls and other activities only.")


def _by_person(session: Session) -> Table:
    found = session.worth()
    assert found is not None
    rows = tuple((one.person or "not named", f"{tp} of {tp + fn}", f"{fp} of {fp + tn}")
                 for one, (tp, fn, fp, tn) in found.left_out)
    return Table("left_out_people", "Each person under settings found without them",
                 ("person", "caught", "false alarms"), rows, (1, 2))


def _plot(session: Session, view: ScoreView) -> Plot:
    """Sensitivity and specificity with their intervals."""
    rows: list[tuple[str, Estimate | None, str]] = []
    found = session.worth()
    if found is not None:
        cells = worth.left_out_cells(found.record).sum(axis=0)
        rows += _two("left out", Matrix(*map(int, cells)), "touch")
    rows += _two("tuned on" if found is not None else "at hand", Matrix(**view.counts), "muted")
    study = session.study
    for entry in worth.openings_of(study, study.settings, study.front_end)[:3]:
        rows += _two(f"sealed, {entry.when[:10]}", Matrix(*(entry.matrix.get(key, 0) for key in ("tp", "fn", "fp",
                                                                                                "tn"))), "impact")
    there = [(name, one, role) for name, one, role in rows if one is not None][::-1]
    bars = [Bar(float(at), 100 * one.low, 100 * one.value, 100 * one.high, role)
            for at, (_, one, role) in enumerate(there)]
    return intervals("figures", "Sensitivity and specificity with their 95 % intervals",
                     "The same figures as in the tables below.", "%", [name for name, _, _ in there], bars,
                     (0.0, 100.0))


def _two(of: str, m: Matrix, role: str) -> list[tuple[str, Estimate | None, str]]:
    found = figures_of(m)
    return [(f"sensitivity, {of}", found.sensitivity, role), (f"specificity, {of}", found.specificity, role)]


def intended_use(session: Session) -> Section:
    """As it was answered once; what nobody answered says so."""
    said = asdict(session.study.intended_use)
    rows = tuple((TITLES[key], " ".join(said[key].split()) or NOT_STATED) for key in QUESTIONS)
    open_points = [TITLES[key] for key in QUESTIONS if not said[key].strip()]
    table = Table("intended_use", "What it is for", ("", "stated"), rows)
    required = Table("requirements", "What it must do, and what it comes to", requirements.TITLES,
                     requirements.rows(requirements.of_study(session)), (1, 2, 4),
                     "The same requirements that parts are compared against.")
    return Section("intended_use", "Intended use", tables=(table, required), warnings=_not_of_others(session),
                   unverified=(f"Not stated: {', '.join(open_points)}.",) if open_points else ())


def _not_of_others(session: Session) -> tuple[str, ...]:
    """Where the requirement of falls caught could only be held against the people it was tuned on."""
    found = session.worth()
    if found is None or not (found.changed or found.stale):
        return ()
    return ("How many falls of people left out these settings catch is not known: something changed since the search. "
            "The table has the figure of the people it was tuned on.",)


def warnings(session: Session) -> Section:
    found = session.warnings()
    said = () if found else ("No standing warning.",)
    return Section("warnings", "Standing warnings", said, warnings=tuple(map(in_line, found)))


def digests(session: Session) -> Section:
    """Of what the report was made from, and what made it."""
    recordings, labels = session.digests()
    rows = (("recordings, SHA-256", recordings), ("labels, SHA-256", labels), *versions())
    per_file = tuple((item.name, item.sha256) for item in sorted(session.study.items, key=lambda one: one.name))
    return Section("digests", "Digests and versions", tables=(
        Table("digests", "Made from and by", ("what", "value"), rows),
        Table("recordings", "Recordings", ("recording", "SHA-256 of its file"), per_file)))


def signature() -> Section:
    blank = "\u00a0" * 30
    return Section("signature", "Reviewed by", tables=(
        Table("signature", "", ("name", "role", "date", "signature"), ((blank, blank, blank, blank),) * 3),))


def the_sensor(session: Session) -> Section:
    study, view = session.study, part_view(session.study)
    peaks = [one for one in session.warnings() if one.key in ("clipped_peaks", "reach", "bandwidth", "rate_hz")]
    untouched = [title for title, _, key, _ in number_rows(study) if key not in study.device.given]
    return Section("sensor", "Sensor, filter, noise, clipping", (
        f"The score is of a sensor of {sensor(study.front_end)}; the part that is described is {view.front_end}.",), (
        Table("sensor", "What follows from the part", ("what", "value", "meaning"), view.rows, (1,)),
        Table("sensor_numbers", "Numbers of the part", ("number", "value", "key", "where it comes from"),
              number_rows(study), (1,))), warnings=(*view.doubts, *(one.sentence for one in peaks)),
        unverified=(f"{plural(len(untouched), 'number')} of the part stand at their starting values, which nobody "
                    "checked. The table of the part's numbers says where each comes from.",) if untouched else ())


def people(session: Session) -> Section:
    """Who wore what, at which rates; nobody sealed is named."""
    study = session.study
    rows = []
    for person in sorted({item.about.person for item in study.items}):
        mine = [item for item in study.items if item.about.person == person]
        kinds = Counter(label.kind for item in mine for label in item.labels)
        length = sum(trimmed(session.library[item.name], item.trim).duration_s for item in mine
                     if item.name in session.library)
        rows.append((person or "not named", str(len(mine)), str(kinds["fall"]), str(kinds["other"]), duration(length)))
    loggers = Counter((f"{decimal(one.rate_hz)}{GAP}Hz", item.about.placement or "not stated",
                       item.about.setting or "not stated") for item in study.items
                      if (one := session.library.get(item.name)) is not None)
    return Section("people", "People and recordings", tuple(filter(None, (
        f"{plural(len(study.items), 'recording')}, {duration(session.results().hours * 3600)}.",
        sealed_set.sentence(study) and f"{sealed_set.sentence(study)}: not named here and in none of the figures but "
        "the openings'.", study.notes))), (
        Table("people", "People", ("person", "recordings", "falls", "other activities", "length"), tuple(rows),
              (1, 2, 3, 4)),
        Table("loggers", "Rates, placements and settings of use", ("rate", "placement", "setting", "recordings"),
              tuple((*key, str(count)) for key, count in sorted(loggers.items())), (3,))))


def quality(session: Session) -> Section:
    """Findings, exclusions and labels that the signal contradicts."""
    study = session.study
    found = checks.quality(study, session.library)
    findings = tuple((one.name, finding.kind, finding.sentence) for one in found for finding in one.findings)
    gone = tuple((row.name, row.outcome, row.reason) for row in session.results().rows
                 if row.outcome in ("left out", "refused", "unscored"))
    cut = tuple((item.name, in_words(item.trim)) for item in study.items if item.trim.total_s)
    doubts = checks.label_findings_in(study, session.library)
    calibrated = sum(item.calibration is not None for item in study.items)
    return Section("quality", "Quality, exclusions, label checks", (
        checks.summary(found), f"{part(calibrated, len(study.items))} recordings are calibrated.",
        f"{plural(len(gone), 'recording')} not scored, {len(cut)} trimmed.",
        f"{plural(len(doubts), 'label')} contradicted by the signal." if doubts else
        "The signal contradicts no label."), (
        Table("quality", "Findings", ("recording", "kind", "finding"), findings),
        Table("exclusions", "Not scored", ("recording", "how", "why"), gone),
        Table("trimmed", "Trimmed", ("recording", "what"), cut),
        Table("label_checks", "Labels to check", ("recording", "finding"),
              tuple((one.recording, one.sentence) for one in doubts))),
        unverified=(f"{plural(len(doubts), 'label')} contradicted by the signal and not settled.",) if doubts else ())
