"""A report as one HTML file that needs nothing else: no script, font, picture or style from anywhere."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from app.study.report.page import Dossier
from app.study.report.plots import BOTTOM, RIGHT, TOP, WIDTH
from app.study.report.versions import program_version

if TYPE_CHECKING:
    from jinja2 import Environment

TEMPLATES = Path(__file__).parent / "templates"


@lru_cache(maxsize=2)
def environment(folder: Path = TEMPLATES) -> Environment:
    """Everything that is put in is escaped; a name that is missing is a fault and no gap."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined  # the program's start doesn't wait for it

    environment = Environment(loader=FileSystemLoader(folder), autoescape=True, undefined=StrictUndefined,
                              trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True)
    environment.filters["splitlines"] = str.splitlines
    return environment


def render(dossier: Dossier, stages: Mapping[str, str]) -> str:
    """`stages`: what the rule's diagram says in its boxes. The same dossier gives the same text."""
    return environment().get_template("report.html.j2").render(
        dossier=dossier, stages=stages, version=program_version(), width=WIDTH, right=RIGHT, top=TOP, bottom=BOTTOM)
