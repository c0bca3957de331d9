"""The report of a study: put together from what the session knows and from results kept beside the study, and written
as one HTML file with JSON and CSVs beside it. The same study, version and compiler give the same bytes."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from app.study.pipeline import Cancelled, Progress
from app.study.report import kept_results, rule_section
from app.study.report import opening_sections as opening
from app.study.report.device_sections import alarm_life, energy, limits
from app.study.report.html_page import render
from app.study.report.opening_sections import people, quality, the_sensor
from app.study.report.page import Dossier, Section, Table, as_csv, plain
from app.study.report.result_sections import breakdown, daily_alarms, delay, wrong_events
from app.study.report.topics import TOPICS, Crew, Topic, compute
from app.study.results import standing_warnings
from app.study.session import Session
from data.files import write_atomically
from data.problem import Problem, from_os_error
from detect.firmware.header.identity import identity
from detect.rule.integers import rule_of
from detect.rule.settings import BadSetting
from detect.workers import Stopped


@dataclass(frozen=True)
class Files:
    """Of a report at `page`: its JSON beside it, and a folder of CSVs."""

    page: Path

    @property
    def json(self) -> Path:
        return self.page.with_suffix(".json")

    @property
    def tables(self) -> Path:
        return self.page.with_name(f"{self.page.stem}.tables")


def stale_topics(session: Session) -> tuple[Topic, ...]:
    """Those that were never computed for the study as it is now."""
    return tuple(topic for topic in TOPICS if _kept(session, topic).state != "done")


def compute_missing(session: Session, crew: Crew, progress: Progress, cancelled: Cancelled,
                    began: Callable[[str], None] = lambda title: None) -> tuple[str, ...]:
    """Work out what is missing or stale and keep it beside the study; titles of what was. What takes longest comes
    last, so that most is kept of what was cancelled. `began`: what is being worked out from now on. Raises Stopped,
    and Problem where the study has no file yet."""
    if session.path is None:
        raise Problem("report", "The study has no file yet beside which results could be kept.",
                      "Save the study first.")
    session.results()
    topics = sorted(stale_topics(session), key=lambda topic: topic.weight)
    whole, done = sum(topic.weight for topic in topics), 0.0
    for topic in topics:
        if cancelled():
            raise Stopped
        began(topic.title)
        section = compute(topic, session, crew, _part_of(progress, done / whole, topic.weight / whole), cancelled)
        kept_results.keep(session.path, section, kept_results.inputs(session, topic.numbers))
        done += topic.weight
    progress(1.0)
    return tuple(topic.title for topic in topics)


def _part_of(progress: Progress, before: float, part: float) -> Callable[[float], None]:
    return lambda share: progress(before + part * share)


def _kept(session: Session, topic: Topic) -> Section:
    return kept_results.kept(session.path, topic.key, topic.title, kept_results.inputs(session, topic.numbers))


def dossier(session: Session, since: Path | None = None) -> Dossier:
    """`since`: an earlier export, settings file or study. Raises Problem where there is nothing to report on."""
    if not session.library:
        raise Problem("report", "The study has no recording to report on.", "Open recordings first.")
    study, view = session.study, session.results().score
    sections = (
        opening.figures(session), opening.warnings(session), opening.intended_use(session), rule_section.rule(session),
        the_sensor(session), people(session), quality(session), breakdown(session), daily_alarms(session),
        delay(session), wrong_events(session, "missed"), wrong_events(session, "false alarm"),
        *(_kept(session, topic) for topic in TOPICS), _possible("energy", "Energy", energy, session),
        _possible("alarm_life", "The alarm's life", alarm_life, session),
        rule_section.changes(session, since), limits(), opening.digests(session), opening.signature())
    own = identity(rule_of(study.settings, study.front_end), study.front_end)
    return Dossier(study.title, study.notes, f"{own:08X}", opening.headlines(view), sections,
                   standing_warnings.headline(session.warnings()))


def _possible(key: str, title: str, make: Callable[[Session], Section], session: Session) -> Section:
    try:
        return make(session)
    except BadSetting as refused:
        return Section(key, title, (f"Not possible: {refused}",))


def page_of(session: Session, found: Dossier) -> str:
    """The HTML."""
    return render(found, rule_section.stages(session))


def write(session: Session, page: Path, since: Path | None = None) -> list[Path]:
    """The HTML file, its JSON and its CSVs. Raises Problem where they can't be written."""
    found, files = dossier(session, since), Files(page)
    contents = {page: page_of(session, found).encode(), files.json: as_json(found)}
    contents |= {files.tables / f"{table.key}.csv": as_csv(table) for table in tables(found)}
    try:
        files.tables.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise from_os_error(error, str(files.tables), "save") from error
    for path, content in contents.items():
        write_atomically(path, content)
    return list(contents)


def tables(found: Dossier) -> list[Table]:
    return [table for section in found.sections for table in section.tables if table.rows]


def as_json(found: Dossier) -> bytes:
    return (json.dumps(plain(found), ensure_ascii=False, indent=1, allow_nan=False) + "\n").encode()
