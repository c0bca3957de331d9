"""The command line, one file a command: each has `add(parsers)` and `run(options) -> int`."""

from __future__ import annotations

import argparse
from types import ModuleType


def add_command(parsers: argparse._SubParsersAction, name: str, command: ModuleType) -> None:
    """The command's own options, and --json, which all of them take; a command of sub-commands has it on these."""
    command.add(parsers)
    if not hasattr(command, "SUB_COMMANDS"):
        parsers.choices[name].add_argument("--json", action="store_true", help="print JSON")
