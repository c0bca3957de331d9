"""`plumbfall device compare STUDY [PART.toml…]`: parts beside each other, held against the study's requirements."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.options import add_crew, add_given, crew, opened, study_command
from app.cli.output import CHECK_FAILED, DONE, complain, print_json, print_table, progress
from app.study.device.material import in_hand
from app.study.device.parts import (
    DECIDER_TITLES,
    TITLES,
    compare,
    decider_rows,
    headline,
    part_files,
    plain,
    row_texts,
    write_typical,
)
from app.study.device.requirements import TITLES as REQUIREMENT_TITLES
from app.study.device.requirements import rows
from detect.workers import Stopped


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(
        parsers, "compare", help="which part, which range: parts held against the study's requirements",
        description="Every range of every part is scored on the study's recordings with the study's settings, and held "
        "against its requirements (require.… and battery.wanted_days, changed by --set). Without a part's file typical "
        "parts of no maker are taken.")
    command.add_argument("parts", metavar="PART.toml", nargs="*", type=Path)
    command.add_argument("--write-typical", metavar="FOLDER", type=Path,
                         help="write the typical parts' files there, to begin your own with, and compare nothing")
    command.add_argument("--each", action="store_true", help="the requirements of each part, not only of the first")
    add_given(command)
    add_crew(command)


def run(options: argparse.Namespace) -> int:
    """The answer is negative where no part meets every requirement."""
    if options.write_typical is not None:
        written = [str(path) for path in write_typical(options.write_typical)]
        if options.json:
            print_json({"files": written})
        else:
            print("\n".join(written))
        return DONE
    parts, session = part_files(options.parts), opened(options)
    try:
        with crew(options) as executor:
            view = compare(in_hand(session), parts, executor, progress("trying parts"))
    except (Stopped, KeyboardInterrupt):
        complain("\nCancelled.")
        return CHECK_FAILED
    if options.json:
        print_json(plain(view))
    else:
        print_table(TITLES, [row_texts(row) for row in view.rows], range(1, 9))
        for row in view.rows if options.each else view.rows[:1]:
            print(f"\n{row.candidate.name}:")
            print_table(REQUIREMENT_TITLES, rows(row.held), (1, 2, 4))
        print("\nNumbers that would change the choice:" if view.deciders else "\nNo number within a factor of 4 would "
              "change the choice.")
        if view.deciders:
            print_table(DECIDER_TITLES, decider_rows(view), (1,))
        print(headline(view))
    return DONE if view.rows[0].missed == 0 else CHECK_FAILED
