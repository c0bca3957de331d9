"""`plumbfall device registers STUDY PART.toml`: codes to write into a part for the study's physical values."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.options import add_given, opened, study_command
from app.cli.output import DONE, print_json, print_table
from app.study.device.own_parts import part_named
from app.study.device.parts import codes_of, registers_of
from data.files import write_atomically
from data.problem import os_refusals
from detect.device.part.registers import macros, read_back


def add(parsers: argparse._SubParsersAction) -> None:
    command = study_command(parsers, "registers", help="a part's register codes from the study's physical values")
    command.add_argument("part", metavar="PART", help="a part's file, or the name of a part that the study keeps")
    add_given(command)
    command.add_argument("--to", metavar="FILE", type=Path, help="write them as C macros")
    command.add_argument("--read", metavar="FILE", type=Path, help="say what the macros of a header mean instead")


def run(options: argparse.Namespace) -> int:
    study = opened(options).study
    part = part_named(study, options.part)
    if options.read is not None:
        with os_refusals(str(options.read), "read"):
            text = options.read.read_text(encoding="utf-8")
        found = read_back(text, codes_of(part))
        if options.json:
            print_json({"values": found})
        else:
            print_table(("number", "value"), [(key, f"{value:g}") for key, value in found.items()], (1,))
        return DONE
    rows = registers_of(study, part)
    if options.to is not None:
        write_atomically(options.to, macros(rows).encode())
    if options.json:
        print_json({"registers": [{"key": row.key, "macro": row.macro, "code": row.code, "requested": row.requested,
                                   "actual": row.actual} for row in rows]})
    else:
        print_table(("number", "macro", "code", "requested", "actual"),
                    [(row.key, row.macro, str(row.code), f"{row.requested:g}", f"{row.actual:g}") for row in rows],
                    (2, 3, 4))
    return DONE
