"""`plumbfall device self-test STUDY|FILE [RECORDING…]`: a recorded self-test against the device's own limits."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.device.given import add_given, with_given
from app.commands.output import ANSWER_IS_NO, DONE, complain, print_json, print_table
from app.study.device.self_testing import checked, plain, rows, session_of
from data.layout import is_number
from data.problem import Problem
from data.recipe import Recipe, read_recipe
from detect.device.self_test import ADVICE


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("self-test", help="a recorded self-test against what each axis may show; where to put "
                                 "a sensor")
    command.add_argument("source", metavar="STUDY|FILE", type=Path, help="a study, or a recording by itself")
    command.add_argument("recordings", metavar="RECORDING", nargs="*", help="of a study: which hold a self-test")
    command.add_argument("--recipe", metavar="FILE", type=Path, help="how a recording by itself is read")
    command.add_argument("--on", metavar="FROM:TO", default="", help="seconds during which the test was on; looked for "
                         "otherwise")
    add_given(command)
    command.add_argument("--json", action="store_true", help="print JSON")


def run(options: argparse.Namespace) -> int:
    session = session_of(options.source, Recipe() if options.recipe is None else read_recipe(options.recipe))
    for sentence in session.refusals():
        complain(sentence)
    session.act(with_given(session.study, options.set), "numbers of the device")
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
    return DONE if all(one.found.passed for one in found) else ANSWER_IS_NO


def _on(text: str) -> tuple[float, float] | None:
    if not text:
        return None
    start, _, end = text.partition(":")
    if not (is_number(start, ".") and is_number(end, ".")) or float(start) > float(end):
        raise Problem("option", f'--on must be two times in seconds; it is "{text}".', "Correct it, such as --on=2:5.",
                      value=text)
    return float(start), float(end)
