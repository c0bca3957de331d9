"""`plumbfall help [PAGE]`: the help pages of the window, on the terminal or as one HTML file."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.cli.output import DONE, print_json, print_table
from app.study.help import pages
from data.files import write_atomically
from data.problem import Problem


def add(parsers: argparse._SubParsersAction) -> None:
    command = parsers.add_parser("help", help="read the help pages, the same as in the window")
    command.add_argument("page", metavar="PAGE", nargs="?", help="one of: " + ", ".join(pages.TITLES))
    command.add_argument("--search", metavar="WORDS", help="list the pages that hold these words")
    command.add_argument("--to", metavar="FILE.html", type=Path, help="write all pages as one HTML file")


def run(options: argparse.Namespace) -> int:
    if options.page is not None and options.page not in pages.TITLES:
        raise Problem("help", f'No help page is called "{options.page}".', f"Name one of {', '.join(pages.TITLES)}.",
                      value=options.page)
    if options.to is not None:
        write_atomically(options.to, pages.as_html())
        print(options.to)
        return DONE
    wanted = pages.pages() if options.search is None else pages.found(options.search)
    shown = pages.page(options.page) if options.page is not None else None
    if options.json:
        print_json([{"page": one.key, "title": one.title, "text": pages.as_text(one)}
                    for one in ((shown,) if shown is not None else wanted)])
    elif shown is not None:
        print(pages.as_text(shown), end="")
    else:
        print_table(("page", "about"), [(one.key, one.title) for one in wanted])
    return DONE
