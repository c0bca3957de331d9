"""`plumbfall recipe FILE…`: a recipe drafted from what can be told about files, to be completed by hand."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.output import CHECK_FAILED, DONE, OPTIONS, complain, print_json
from app.formatting import plural
from data.files import write_atomically
from data.problem import Problem
from data.recipe.draft import PAGE, draft
from data.recipe.recipe import recipe_to_plain


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("recipe", help="write a recipe from what can be told about files",
                                 epilog="What is suggested stands behind a #, with its reason. --page prints what a "
                                 "recipe can say.")
    command.add_argument("files", metavar="FILE", nargs="*", type=Path, help="recordings of one kind, or their folder")
    command.add_argument("--to", metavar="FILE", type=Path, help="where to write it; else it is printed")
    command.add_argument("--page", action="store_true", help="print what a recipe can say, key by key")


def run(options: argparse.Namespace) -> int:
    if options.page:
        text = PAGE.read_text(encoding="utf-8")
        if options.json:
            print_json({"page": text})
        else:
            print(text, end="")
        return DONE
    if not options.files:
        raise Problem("option", "No file is named.", "Name a recording or a folder, or --page.")
    if options.to is not None and options.to.exists():
        raise Problem("exists", f"{options.to} is already there, and may be completed by hand.",
                      "Name another file, or remove that one.", file=str(options.to))
    found = draft(options.files)
    if options.to is not None:
        write_atomically(options.to, found.text)
    if options.json:
        print_json({"recipe": recipe_to_plain(found.recipe), "files": found.files, "other_kinds": found.others,
                    "open": None if found.open is None else found.open.sentence(OPTIONS)})
    elif options.to is None:
        print(found.text, end="")
    else:
        print(f"Drafted from {plural(found.files, 'file')} in {options.to}: complete it by hand.")
    if found.others:
        complain(f"{plural(found.others, 'file is', 'files are')} of another kind and "
                 f"{'needs' if found.others == 1 else 'need'} a recipe apart.")
    return DONE if found.open is None else CHECK_FAILED
