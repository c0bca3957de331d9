"""`plumbfall doubts STUDY`: labels that the signal contradicts, and clocks that would explain it. Changes nothing
unless told which."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path

from app.commands.output import ANSWER_IS_NO, DONE, complain, print_json
from app.study import looked_over
from app.study.lease import save_alone
from app.study.session import Session
from data.doubts import ClockProposal
from data.problem import Problem


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("doubts", help="labels that the signal contradicts, with the reason")
    command.add_argument("study", metavar="STUDY", type=Path)
    command.add_argument("--take-clock", metavar="RECORDING", action="append", default=[],
                         help="move this recording's labels by the clock proposed for it, and save")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = Session.opened(options.study)
    for sentence in session.refusals():
        complain(sentence)
    proposals = looked_over.clocks(session.study, session.library)
    if options.take_clock:
        _take(session, options.take_clock, {one.recording: one for one in proposals}, options.study)
        proposals = looked_over.clocks(session.study, session.library)
    found = looked_over.doubts(session.study, session.library)
    if options.json:
        print_json({"doubts": [asdict(one) for one in found], "clocks": [asdict(one) for one in proposals]})
    else:
        for doubt in found:
            print(f"{doubt.recording}: {doubt.sentence}")
        for proposal in proposals:
            print(f"{proposal.recording}: {proposal.sentence}")
        print(f"{len(found)} doubts, {len(proposals)} proposals for a clock")
    return ANSWER_IS_NO if found else DONE


def _take(session: Session, names: list[str], proposals: dict[str, ClockProposal], path: Path) -> None:
    for name in names:
        if name not in proposals:
            message = f'No clock is proposed for "{name}".'
            raise Problem("option", message, "Name a recording from the list.", value=name)
        session.act(looked_over.with_clock(session.study, proposals[name]), f"labels' clock of {name}")
    save_alone(session, path)
