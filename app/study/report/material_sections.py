"""What a report's figures come from: sensor, people, recordings, their quality, what was left out, label checks."""

from __future__ import annotations

from collections import Counter

from app.formatting import GAP, decimal, duration, part, plural, sensor
from app.study.device.part import number_rows, part_view
from app.study.recordings import checks
from app.study.recordings.trim import in_words, trimmed
from app.study.report.page import Section, Table
from app.study.sealed import sealed_set
from app.study.session import Session


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
