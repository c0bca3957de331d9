"""`plumbfall device …`: the sensor and the device around the rule, one file a sub-command."""

from __future__ import annotations

import argparse
from importlib import import_module
from types import ModuleType

from app.cli import add_command

SUB_COMMANDS: tuple[str, ...] = (
    "budget", "compare", "decode", "life", "mounting", "part", "ranges", "registers", "self_test", "tolerance", "wake",
    "what_if")
"""Module names; a dash stands for each underscore where they are typed. Each has `add(parsers)` and `run(options)`."""


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("device", help="sensor what-ifs, tolerance of a thousand devices, budget, event log")
    below = command.add_subparsers(dest="device_command", metavar="sub-command", required=True)
    for name in SUB_COMMANDS:
        add_command(below, name.replace("_", "-"), _sub_command(name))


def run(options: argparse.Namespace) -> int:
    return int(_sub_command(options.device_command.replace("-", "_")).run(options))


def _sub_command(name: str) -> ModuleType:
    return import_module(f"app.cli.device.{name}")
