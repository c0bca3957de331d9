"""`plumbfall seal STUDY [PERSON…]`: set people aside before tuning; open the seal, counted and dated."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.options import study_command
from app.cli.output import CHECK_FAILED, DONE, complain, print_json, print_score, print_table
from app.study.sealed import openings, sealed_set
from app.study.sealed.openings import Opening
from app.study.session import Session
from app.study.storage.study_files import settings_from
from app.study.storage.study_lock import alone
from data.problem import Problem


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(
        parsers, "seal", help="set people aside before tuning, and open the seal",
        description="Sets people aside: their recordings are not shown, scored or searched until the seal is opened, "
        "which is counted and dated in the study. Without a person or an option it prints the current state. "
        + sealed_set.COPIES)
    command.add_argument("people", metavar="PERSON", nargs="*", default=[], help="people to seal")
    ways = command.add_mutually_exclusive_group()
    ways.add_argument("--open", action="store_true",
                      help="score the settings on the sealed people; without --yes it only prints the cost")
    ways.add_argument("--release", metavar="PERSON", nargs="+", default=[], help="take sealed people back")
    command.add_argument("--yes", action="store_true", help="with --open: open it, count it")
    command.add_argument("--settings", metavar="FILE", type=Path,
                         help="with --open: score these instead of the study's own; a settings file, another study or "
                         "an exported header")


def run(options: argparse.Namespace) -> int:
    if options.people and (options.open or options.release):
        raise Problem("option", "Sealing, releasing and opening can not be combined.", "Use one command for each.")
    if not (options.people or options.open or options.release):
        return _say(Session.opened(options.study), options)
    with alone(options.study):
        session = Session.opened(options.study)
        if options.open:
            return _open(session, options)
        if options.release:
            openings.release(session, options.release, sealed_set.now())
        else:
            session.seal(options.people, sealed_set.now())
            session.save(options.study)
    return _say(session, options)


def _say(session: Session, options: argparse.Namespace) -> int:
    study = session.study
    remarks = sealed_set.remarks(study)
    if options.json:
        print_json(sealed_set.plain(study) | {"remarks": list(remarks)})
    else:
        print(sealed_set.sentence(study) or "Nobody is sealed.")
        if study.seal.openings:
            print_table(("opened", "recordings", "caught", "false alarms", "settings CRC-32"),
                        [(one.when, str(one.recordings), *sealed_set.counts_in_words(one),
                          sealed_set.identity_in_words(one))
                         for one in study.seal.openings], (1, 2, 3))
        for remark in (*([sealed_set.opened(study)] if study.seal.releases else []), *remarks,
                       *sealed_set.broken(study)):
            print(remark)
    return CHECK_FAILED if sealed_set.broken(study) else DONE


def _open(session: Session, options: argparse.Namespace) -> int:
    if options.settings is not None:
        session.adopt(settings_from(options.settings, session.study.front_end))
    if not options.yes:
        complain(openings.cost(session.study))
        complain("Nothing was opened. Add --yes to open it.")
        return CHECK_FAILED
    found = openings.counted(session, openings.scored(session.study, session.every_recording()), sealed_set.now())
    if options.json:
        print_json(openings.plain(found, session.study))
    else:
        _print(found, session)
    return DONE


def _print(found: Opening, session: Session) -> None:
    view, entry = found.view, found.entry
    print(f"Opening {found.number}, {entry.when}: {sealed_set.number_of(entry)}")
    print(f"settings CRC-32 {sealed_set.identity_in_words(entry)}, SHA-256 {entry.settings_sha256}")
    print_score(view)
    for line in (view.unlabelled, *sealed_set.remarks(session.study), *sealed_set.broken(session.study),
                 sealed_set.COPIES):
        print(line)
