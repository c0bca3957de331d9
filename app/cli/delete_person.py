"""`plumbfall delete-person STUDY PERSON`: everything of one person's recordings, in one action."""

from __future__ import annotations

import argparse

from platformdirs import user_state_path

from app.cli.options import study_command
from app.cli.output import CHECK_FAILED, DONE, complain, print_json
from app.study.session import Session
from app.study.storage.person_deletion import Deletion, delete, planned
from app.study.storage.study_lock import alone


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(
        parsers, "delete-person", help="delete all recordings of one person, raw captures included",
        description="Deletes a person's recordings from study and history, the files of captures, raw captures, "
        "the cache and the recovery copy, and names what else holds them. Without --yes it says what it would do.")
    command.add_argument("person", metavar="PERSON", help="their pseudonym, as the recordings have it")
    command.add_argument("--yes", action="store_true", help="do it; nothing brings the recordings back")


def run(options: argparse.Namespace) -> int:
    with alone(options.study):
        session = Session.opened(options.study)
        found = planned(session, options.person)
        if options.yes:
            delete(session, found, user_state_path("plumbfall", appauthor=False))
    if options.json:
        print_json(_plain(found, options.yes))
    else:
        for sentence in found.sentences():
            print(sentence)
    if not options.yes:
        complain("Nothing was deleted. Add --yes to delete it.")
    return DONE if options.yes else CHECK_FAILED


def _plain(found: Deletion, deleted: bool) -> dict[str, object]:
    return {"deleted": deleted, "recordings": list(found.recordings), "files": [str(one) for one in found.files],
            "raw_captures": [str(one) for one in found.raws],
            "raw_captures_without_nodes": {str(raw): sorted(nodes) for raw, nodes in found.rewritten.items()},
            "kept_elsewhere": [str(one) for one in found.elsewhere], "still_hold": [str(one) for one in found.traces]}
