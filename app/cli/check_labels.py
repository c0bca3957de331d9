"""`plumbfall check-labels STUDY`: labels that the signal contradicts, and time offsets that would explain it."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path

from app.cli.options import opened, study_command
from app.cli.output import CHECK_FAILED, DONE, OPTIONS, complain, print_json
from app.formatting import plural
from app.study.labels.onsets import propose_onsets
from app.study.recordings import checks
from app.study.session import Session
from app.study.storage.study_lock import save_alone
from data.labels.checks import TimeOffsetProposal
from data.problem import Problem


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "check-labels", help="labels that the signal contradicts, with the reason")
    command.add_argument("--propose-onsets", action="store_true",
                         help="propose the onset of every fall that is a whole recording, from its largest impact, and "
                         "save; each is marked so until it is confirmed or corrected in the window")
    command.add_argument("--apply-offset", metavar="RECORDING", action="append", default=[],
                         help="shift this recording's labels by the time offset proposed for it, and save")


def run(options: argparse.Namespace) -> int:
    session = opened(options)
    if options.propose_onsets:
        _propose(session, options.study)
    proposals = checks.time_offsets(session.study, session.library)
    if options.apply_offset:
        _apply(session, options.apply_offset, {one.recording: one for one in proposals}, options.study)
        proposals = checks.time_offsets(session.study, session.library)
    found = checks.label_findings_in(session.study, session.library)
    if options.json:
        print_json({"findings": [asdict(one) for one in found], "time_offsets": [asdict(one) for one in proposals]})
    else:
        for doubt in found:
            print(f"{doubt.recording}: {doubt.sentence}")
        for proposal in proposals:
            print(f"{proposal.recording}: {proposal.sentence}")
        print(f"{plural(len(found), 'label')} to check, {plural(len(proposals), 'time offset')} proposed")
    return CHECK_FAILED if found else DONE


def _propose(session: Session, path: Path) -> None:
    changed = propose_onsets(session.study, session.library)
    for problem in changed.problems:
        complain(problem.sentence(OPTIONS))
    session.act(changed.study, "propose onsets")
    save_alone(session, path)


def _apply(session: Session, names: list[str], proposals: dict[str, TimeOffsetProposal], path: Path) -> None:
    for name in names:
        if name not in proposals:
            message = f'No time offset is proposed for "{name}".'
            raise Problem("option", message, "Name a recording from the list.", value=name)
        session.act(checks.with_time_offset(session.study, proposals[name]), f"label time offset of {name}")
    save_alone(session, path)
