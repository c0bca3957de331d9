"""`plumbfall report STUDY --to FILE.html`: everything a reviewer needs to know of a study, as one file."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from concurrent.futures import Executor
from pathlib import Path

from app.cli.options import add_crew, crew, opened, study_command
from app.cli.output import CHECK_FAILED, DONE, complain, print_json, progress, until_interrupted
from app.study.report import dossier, pdf
from app.study.report.topics import TOPICS
from app.study.session import Session
from detect.workers import Stopped


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(
        parsers, "report", help="write a report that a reviewer can follow: one HTML file, JSON and CSVs beside it",
        description="Results that take long (map, tolerance, sleeping, mounting, other sensors, ranges, the "
        "firmware as built here) are taken from those kept beside the study. What is missing or stale says so; "
        "--compute fills it.")
    command.add_argument("--to", metavar="FILE.html", type=Path, required=True)
    command.add_argument("--compute", action="store_true", help="compute what is missing or stale, and keep it")
    command.add_argument("--since", metavar="FILE", type=Path,
                         help="list what changed against an earlier exported header, settings file or study")
    command.add_argument("--pdf", action="store_true", help="print it to a PDF beside it too; needs Chromium")
    add_crew(command)


def run(options: argparse.Namespace) -> int:
    if options.pdf:
        pdf.require()
    session = opened(options)
    computed: tuple[str, ...] = ()
    if options.compute:
        try:
            with until_interrupted() as cancelled, crew(options) as executor:
                computed = _compute(session, executor, cancelled)
        except (Stopped, KeyboardInterrupt):
            complain(f"\n{_cancelled(session)}")
            return CHECK_FAILED
    written = dossier.write(session, options.to, options.since)
    if options.pdf:
        written.append(pdf.write(options.to))
    open_topics = [topic.title for topic in dossier.stale_topics(session)]
    if options.json:
        print_json({"files": [str(path) for path in written], "computed": list(computed),
                    "missing_or_stale": open_topics})
    else:
        print(options.to)
        if open_topics:
            complain(f"Missing or stale: {', '.join(open_topics)}. Add --compute.")
    return DONE


def _compute(session: Session, executor: Executor | None, cancelled: Callable[[], bool]) -> tuple[str, ...]:
    """Titles of what was computed; at a terminal the line says which of them runs, and the time left."""
    tell, running = progress("computing"), [""]

    def began(title: str) -> None:
        running[0] = title

    return dossier.compute_missing(session, executor, lambda share: None if tell is None else tell(share, running[0]),
                                   cancelled, began)


def _cancelled(session: Session) -> str:
    left = dossier.stale_topics(session)
    done = ", ".join(topic.title for topic in TOPICS if topic not in left)
    return (f"Cancelled. No report was written. Computed and kept: {done or 'nothing yet'}. The same command goes on "
            "from there; without --compute it writes the report with what there is.")
