"""`plumbfall seal STUDY [PERSON…]`: put people aside before tuning; open the seal, counted and dated."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.output import ANSWER_IS_NO, DONE, complain, print_json, print_table
from app.study import opening, sealing
from app.study.chosen import settings_from
from app.study.lease import require
from app.study.opening import Opening
from app.study.session import Session
from data.problem import Problem


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser(
        "seal", help="put people aside before tuning, and open the seal",
        description="Puts people aside: their recordings are not shown, scored or searched until the seal is opened, "
        "which is counted and dated in the study. Without a person or an option it says how things stand. "
        + sealing.COPIES)
    command.add_argument("study", metavar="STUDY", type=Path)
    command.add_argument("people", metavar="PERSON", nargs="*", default=[], help="people to seal")
    ways = command.add_mutually_exclusive_group()
    ways.add_argument("--open", action="store_true",
                      help="score the settings on the sealed people; says what that costs unless --yes is given too")
    ways.add_argument("--release", metavar="PERSON", nargs="+", default=[], help="take sealed people back")
    command.add_argument("--yes", action="store_true", help="with --open: open it, count it")
    command.add_argument("--settings", metavar="FILE", type=Path,
                         help="with --open: score these instead of the study's own; a settings file, another study or "
                         "an exported header")
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    if options.people and (options.open or options.release):
        raise Problem("option", "People are sealed or released, or the seal is opened: not several of it at once.",
                      "Give one command for each.")
    if not (options.people or options.open or options.release):
        return _say(Session.opened(options.study), options)
    lease = require(options.study)
    try:
        session = Session.opened(options.study)
        if options.open:
            return _open(session, options)
        if options.release:
            opening.release(session, options.release, sealing.now())
        else:
            session.seal(options.people, sealing.now())
            session.save(options.study)
    finally:
        lease.release()
    return _say(session, options)


def _say(session: Session, options: argparse.Namespace) -> int:
    study = session.study
    remarks = sealing.remarks(study)
    if options.json:
        print_json(sealing.plain(study) | {"remarks": list(remarks)})
    else:
        print(sealing.sentence(study) or "Nobody is sealed.")
        if study.seal.openings:
            print_table(("opened", "recordings", "caught", "false alarms", "settings CRC-32"),
                        [(one.when, str(one.recordings), *sealing.counts_in_words(one), one.identity)
                         for one in study.seal.openings], (1, 2, 3))
        for remark in (*remarks, *sealing.broken(study)):
            print(remark)
    return ANSWER_IS_NO if sealing.broken(study) else DONE


def _open(session: Session, options: argparse.Namespace) -> int:
    if options.settings is not None:
        session.adopt(settings_from(options.settings, session.study.front_end))
    if not options.yes:
        complain(opening.cost(session.study))
        complain("Nothing was opened. Add --yes to open it.")
        return ANSWER_IS_NO
    found = opening.counted(session, opening.scored(session.study, session.every_recording()), sealing.now())
    if options.json:
        print_json(opening.plain(found, session.study))
    else:
        _print(found, session)
    return DONE


def _print(found: Opening, session: Session) -> None:
    view, entry = found.view, found.entry
    print(f"Opening {found.number}, {entry.when}: {sealing.number_of(entry)}")
    print(f"settings CRC-32 {entry.identity}, SHA-256 {entry.settings_sha256}")
    print()
    counts = view.counts
    print_table(("", "alarm", "no alarm"),
                ((f"fall ({view.falls})", f"{counts['tp']} caught", f"{counts['fn']} missed"),
                 (f"other activity ({view.others})", f"{counts['fp']} false alarms", f"{counts['tn']} quiet")), (1, 2))
    print()
    print_table(("figure", "value", "95 % interval", "by people"),
                [(cell.name, cell.text, cell.interval, cell.by_person) for cell in view.cells], (1, 2, 3))
    for line in (view.strays, *sealing.remarks(session.study), *sealing.broken(session.study), sealing.COPIES):
        print(line)
