"""What commands are asked: a study, device numbers in place of its own (`--set`), and who does the long work."""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from contextlib import AbstractContextManager
from pathlib import Path

from app.cli.output import complain
from app.study.device import part
from app.study.session import Session
from app.study.state import Study
from app.study.workers import connected, processes
from data.problem import shown
from detect.device.quantities import Plain
from detect.rule.settings import BadSetting

MOST_DIGITS = 10
"""No option counts so far."""


def study_command(parsers: argparse._SubParsersAction, name: str, help: str,
                  description: str | None = None) -> argparse.ArgumentParser:
    """A command whose first word is a study."""
    command: argparse.ArgumentParser = parsers.add_parser(name, help=help, description=description)
    command.add_argument("study", metavar="STUDY", type=Path)
    return command


def opened(options: argparse.Namespace) -> Session:
    """The study named, with the device numbers given in place of its own; says which of its files can't be read."""
    session = Session.opened(options.study)
    tell_refused(session)
    session.act(with_given(session.study, getattr(options, "set", ())), "device numbers")
    return session


def tell_refused(session: Session) -> None:
    for sentence in session.refusals():
        complain(sentence)


def add_crew(command: argparse.ArgumentParser) -> None:
    """The options `--workers` and `--scheduler`."""
    crew = command.add_mutually_exclusive_group()
    crew.add_argument("--workers", type=whole_number(), default=os.cpu_count() or 1, metavar="N",
                      help="processes on this machine")
    crew.add_argument("--scheduler", metavar="ADDRESS", help="send the work to the workers of the dask scheduler "
                      "there, such as tcp://10.1.2.3:8786 (needs the extra cluster)")


def crew(options: argparse.Namespace) -> AbstractContextManager[Executor | None]:
    """Raises Problem where the scheduler can't be had."""
    return processes(options.workers) if options.scheduler is None else connected(options.scheduler)


def whole_number(least: int = 1) -> Callable[[str], int]:
    """Of an option: whole numbers from `least` on."""
    def read(text: str) -> int:
        if not (text.isascii() and text.isdigit() and len(text) < MOST_DIGITS) or int(text) < least:
            raise argparse.ArgumentTypeError(f'"{shown(text)}" is not a whole number from {least} on')
        return int(text)
    return read


def add_given(command: argparse.ArgumentParser) -> None:
    command.add_argument("--set", metavar="KEY=VALUE", nargs="+", action="extend", default=[],
                         help="device numbers in place of the study's, such as current.running_ua=250")


def with_given(study: Study, given: Sequence[str]) -> Study:
    """The study with these numbers; BadSetting names one that is impossible."""
    for one in given:
        key, sign, text = one.partition("=")
        if not sign:
            raise BadSetting(key, "", "has no value.", "Write KEY=VALUE, such as current.running_ua=250.")
        study = part.changed(study, key.strip(), value_of(text.strip()))
    return study


def value_of(text: str) -> Plain:
    """A number where it is one, true or false, else the words themselves."""
    if text in ("true", "on"):
        return True
    if text in ("false", "off"):
        return False
    try:
        return float(text)
    except ValueError:
        return text
