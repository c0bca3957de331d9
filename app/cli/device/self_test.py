"""`plumbfall device self-test STUDY|FILE [RECORDING…]`: a recorded self-test against the device's own limits."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.options import add_given, tell_refused, with_given
from app.cli.output import CHECK_FAILED, DONE, print_json, print_table
from app.study.device.self_test import checked, plain, rows, session_of
from data.formats.text_layout import is_number
from data.problem import Problem
from data.recipe.recipe import Recipe, read_recipe
from detect.device.part.self_test import ADVICE


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("self-test", help="a recorded self-test against what each axis may show; where to put "
                                 "a sensor")
    command.add_argument("source", metavar="STUDY|FILE", type=Path, help="a study, or a recording by itself")
    command.add_argument("recordings", metavar="RECORDING", nargs="*", help="of a study: which hold a self-test")
    command.add_argument("--recipe", metavar="FILE", type=Path, help="how a recording by itself is read")
    command.add_argument("--on", metavar="FROM:TO", default="", help="seconds during which the test was on; found by "
                         "itself otherwise")
    add_given(command)


def run(options: argparse.Namespace) -> int:
    session = session_of(options.source, Recipe() if options.recipe is None else read_recipe(options.recipe))
    tell_refused(session)
    session.act(with_given(session.study, options.set), "device numbers")
    found = checked(session, options.recordings, _on(options.on))
    if options.json:
        print_json({"self_tests": [plain(one) for one in found],
                    "placement": [{"advice": one.title, "why": one.sentence, "origin": one.origin} for one in ADVICE]})
    else:
        for one in found:
            print(f"{one.recording}: {one.sentence}")
            print_table(("axis", "changed by", "allowed", ""), rows(one), (1,))
        print("\nWhere to put a sensor (common practice, no source):")
        for advice in ADVICE:
            print(f"  [ ] {advice.title}. {advice.sentence}")
    return DONE if all(one.found.passed for one in found) else CHECK_FAILED


def _on(text: str) -> tuple[float, float] | None:
    if not text:
        return None
    start, _, end = text.partition(":")
    if not (is_number(start, ".") and is_number(end, ".")) or float(start) > float(end):
        raise Problem("option", f'--on must be two times in seconds; it is "{text}".', "Correct it, such as --on=2:5.",
                      value=text)
    return float(start), float(end)
