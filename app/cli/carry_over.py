"""`plumbfall carry-over STUDY...`: settings found on one study, scored on others."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.options import tell_refused
from app.cli.output import DONE, complain, print_json, print_table
from app.study.results import carry_over
from app.study.session import Session
from app.study.storage.study_files import Chosen, settings_from


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser(
        "carry-over", help="settings found on one study, scored on others: one table with intervals",
        description="Scores each study under the settings of every study named, and under those of --settings, sensor "
        "included. Where a search found the settings on just these recordings, its figure on people left out stands "
        "in the table. A study of several placements, rates or nodes also "
        "stands in its parts, each under the study's own settings.")
    command.add_argument("studies", metavar="STUDY", type=Path, nargs="+")
    command.add_argument("--settings", metavar="FILE", type=Path, nargs="+", default=[],
                         help="more settings: settings files, studies or exported headers")


def run(options: argparse.Namespace) -> int:
    names = carry_over.names_of([*options.studies, *options.settings])
    studies: list[tuple[str, Session]] = []
    settings: list[tuple[str, Chosen]] = []
    for path, name in zip(options.studies, names, strict=False):
        session = Session.opened(path)
        tell_refused(session)
        studies.append((name, session))
        settings.append((name, carry_over.own(session)))
    for path, name in zip(options.settings, names[len(options.studies):], strict=True):
        chosen = settings_from(path, studies[0][1].study.front_end)
        for remark in chosen.remarks:
            complain(f"{name}: {remark}")
        settings.append((name, chosen))
    cells = carry_over.table(studies, settings)
    if options.json:
        print_json({"cells": [carry_over.plain_cell(cell) for cell in cells], "caution": carry_over.CAUTION})
    else:
        print_table(carry_over.HEADS, [carry_over.texts(cell) for cell in cells], range(3, 8))
        print(f"\n{carry_over.CAUTION}")
    return DONE
