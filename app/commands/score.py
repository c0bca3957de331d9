"""`plumbfall score STUDY`: matrix, figures, a row for each event."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.output import DONE, complain, print_json, print_table
from app.study import actions, nodes, scored, sealing
from app.study.chosen import settings_from
from app.study.session import Session


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("score", help="score a study: matrix, figures, a row for each event")
    command.add_argument("study", metavar="STUDY", type=Path)
    command.add_argument("--settings", metavar="FILE", type=Path,
                         help="a settings file, another study or an exported header; the study's own otherwise")
    command.add_argument("--node", metavar="NODE",
                         help="of recordings with several nodes the one scored, or any; the study's own otherwise")
    command.add_argument("--attempts", action="store_true", help="with --json: every attempt, field by field")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    if options.settings is not None:
        chosen = settings_from(options.settings, session.study.front_end)
        for remark in chosen.remarks:
            complain(remark)
        session.adopt(chosen)
    if options.node is not None:
        session.act(actions.score_node(session.study, nodes.known(session.study, options.node)), "choose the node")
    for sentence in session.refusals():
        complain(sentence)
    if options.json:
        print_json(scored.plain(session, with_attempts=options.attempts))
    else:
        _print(session)
    return DONE


def _print(session: Session) -> None:
    results = session.results()
    score = results.score
    counts = score.counts
    print(f"{results.study.title}: {results.hours:.1f} h of recording, scored in {results.took_ms:.0f} ms")
    if results.study.notes:
        print(results.study.notes)
    print()
    print_table(("", "alarm", "no alarm"),
                ((f"fall ({score.falls})", f"{counts['tp']} caught", f"{counts['fn']} missed"),
                 (f"other activity ({score.others})", f"{counts['fp']} false alarms", f"{counts['tn']} quiet")), (1, 2))
    print()
    print_table(("figure", "value", "95 % interval", "by people"),
                [(cell.name, cell.text, cell.interval, cell.by_person) for cell in score.cells], (1, 2, 3))
    for line in (score.strays, score.left_out, sealing.opened_sentence(results.study), *score.cautions):
        if line:
            print(line)
    print()
    wrong = [event for event in session.event_rows() if event.outcome in ("missed", "false alarm")]
    print_table(("recording", "event", "from s", "to s", "outcome", "where the nearest attempt stopped"),
                [(e.recording, e.name or e.kind, f"{e.start_s:.2f}", f"{e.end_s:.2f}", e.outcome, e.stopped)
                 for e in wrong], (2, 3))
    print()
    print("An engineering aid, not a medical device. Simulated falls by young volunteers flatter a detector.")
