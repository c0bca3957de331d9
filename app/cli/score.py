"""`plumbfall score STUDY`: matrix, figures, a row for each event."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.options import study_command, tell_refused
from app.cli.output import DONE, complain, print_below, print_json, print_score
from app.study import actions
from app.study.recordings import nodes
from app.study.results import score_json
from app.study.results.content import WorthView
from app.study.results.standing_warnings import in_line
from app.study.sealed import sealed_set
from app.study.session import Session
from app.study.storage.study_files import settings_from


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "score", help="score a study: matrix, figures, a row for each event")
    command.add_argument("--settings", metavar="FILE", type=Path,
                         help="a settings file, another study or an exported header; default: the study's own")
    command.add_argument("--node", metavar="NODE",
                         help="the node to score in recordings with several, or any; default: the study's own")
    command.add_argument("--attempts", action="store_true", help="with --json: every attempt, field by field")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    if options.settings is not None:
        chosen = settings_from(options.settings, session.study.front_end)
        for remark in chosen.remarks:
            complain(remark)
        session.adopt(chosen)
    if options.node is not None:
        session.act(actions.score_node(session.study, nodes.known(session.study, options.node)), "choose the node")
    tell_refused(session)
    if options.json:
        print_json(score_json.plain(session, with_attempts=options.attempts))
    else:
        _print(session)
    return DONE


def _print(session: Session) -> None:
    results = session.results()
    score = results.score
    print(f"{results.study.title}: {results.hours:.1f} h of recording, scored in {results.took_ms:.0f} ms")
    if results.study.notes:
        print(results.study.notes)
    print()
    for one in score.warnings:
        print(f"warning: {in_line(one)}")
    _print_worth(score.worth)
    print_score(score)
    for line in (score.unlabelled, score.left_out, sealed_set.opened_sentence(results.study)):
        if line:
            print(line)
    wrong = session.event_rows(("missed", "false alarm"))
    print_below(("recording", "event", "from s", "to s", "outcome", "where the nearest attempt stopped"),
                [(e.recording, e.name or e.kind, f"{e.start_s:.2f}", f"{e.end_s:.2f}", e.outcome, e.stopped)
                 for e in wrong], (2, 3))
    print("\nAn engineering aid, not a medical device. Simulated falls by young volunteers flatter a detector.")


def _print_worth(worth: WorthView | None) -> None:
    """On people left out first; what follows is then of the people it was tuned on."""
    if worth is None:
        return
    print_below(("left out", "value", "95 % interval", "by people"),
                [(cell.name, cell.text, cell.interval, cell.by_person) for cell in worth.cells], (1, 2, 3))
    for line in (worth.left_out, worth.sealed, worth.whom, *worth.expected, worth.changed):
        if line:
            print(line)
    print("\nOn the people it was tuned on:")
