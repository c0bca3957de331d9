"""The help pages: which there are, as HTML with the report's template, as plain text, and what holds some words."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from html.parser import HTMLParser
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING

from app.formatting import with_unit
from app.study.capture.capacity import WORTH_A_WARNING
from app.study.capture.faults import KINDS
from app.study.capture.simulator import SPEEDS
from app.study.capture.volunteers import BEFORE_S, COLUMNS, REST_EVERY
from app.study.help.shortcuts import SHORTCUTS
from app.study.report.cautions import BINDING, CAUTIONS, OF_DEMO, PUBLISHED
from app.study.report.html_page import environment
from app.study.report.versions import program_version
from detect.rule.settings import PARAMETERS, Unit

if TYPE_CHECKING:
    from markupsafe import Markup

WIDTH = 100
"""Letters of a line on a terminal."""
FOLDER = Path(__file__).parent / "pages"
TITLES = {
    "first-hour": "The first hour",
    "rule": "How the rule works",
    "figures": "How to read the figures",
    "files": "File formats",
    "recipes": "Recipes",
    "capture": "Recording from boards",
    "shortcuts": "Keys",
    "glossary": "Glossary",
    "cautions": "Cautions",
}


@dataclass(frozen=True)
class HelpPage:
    """`html`: what stands below the title, safe as it is."""

    key: str
    title: str
    html: Markup


@lru_cache(maxsize=1)
def pages() -> tuple[HelpPage, ...]:
    """In the order in which they are read."""
    from markupsafe import Markup

    made = environment(FOLDER)
    settings = [(row, "" if isinstance(row.default, bool | tuple | str) else with_unit(float(row.default), row.unit))
                for row in PARAMETERS if row.unit not in (Unit.SWITCH, Unit.CHOICE, Unit.VECTOR)]
    return tuple(HelpPage(key, title, Markup(made.get_template(f"{key}.html.j2").render(
        settings=settings, shortcuts=SHORTCUTS, cautions=(*CAUTIONS, OF_DEMO), binding=BINDING, published=PUBLISHED,
        most_percent=f"{100 * WORTH_A_WARNING:g}", most_speed=f"{SPEEDS[1]:g}", faults=KINDS, script=COLUMNS,
        before_s=f"{BEFORE_S:g}", rest_every=REST_EVERY)))
        for key, title in TITLES.items())


def page(key: str) -> HelpPage | None:
    return next((one for one in pages() if one.key == key), None)


def as_html() -> str:
    """All pages as one file that needs nothing else."""
    return environment().get_template("help.html.j2").render(pages=pages(), version=program_version())


def found(words: str) -> tuple[HelpPage, ...]:
    """Pages that hold every word, those with one in their title first."""
    wanted = words.casefold().split()
    holding = [one for one in pages() if all(word in f"{one.title} {as_text(one)}".casefold() for word in wanted)]
    return tuple(sorted(holding, key=lambda one: not any(word in one.title.casefold() for word in wanted)))


def as_text(one: HelpPage) -> str:
    """For a terminal: paragraphs apart, items with a dash, tables in columns."""
    reader = _Reader()
    reader.feed(str(one.html))
    reader.close()
    return "\n\n".join([f"{one.title}\n{'=' * len(one.title)}", *reader.blocks]) + "\n"


class _Reader(HTMLParser):
    """Of the few elements that the pages are written in."""

    def __init__(self) -> None:
        super().__init__()
        self.blocks: list[str] = []
        self._text = ""
        self._rows: list[list[str]] = []
        self._items: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._text = "" if tag in ("p", "h3", "li", "td", "th", "pre") else self._text
        if tag == "tr":
            self._rows.append([])

    def handle_data(self, data: str) -> None:
        self._text += data

    def handle_endtag(self, tag: str) -> None:
        said = self._text.strip("\n") if tag == "pre" else " ".join(self._text.split())
        if tag == "p":
            self.blocks.append(fill(said, WIDTH))
        elif tag == "h3":
            self.blocks.append(f"{said}\n{'-' * len(said)}")
        elif tag == "pre":
            self.blocks.append("\n".join(f"    {line}" for line in said.splitlines()))
        elif tag == "li":
            self._items.append(fill(said, WIDTH, initial_indent="- ", subsequent_indent="  "))
        elif tag in ("td", "th"):
            self._rows[-1].append(said)
        elif tag in ("ul", "ol"):
            self.blocks.append("\n".join(self._items))
            self._items = []
        elif tag == "table":
            widths = [max(len(row[at]) for row in self._rows) for at in range(len(self._rows[0]))]
            self.blocks.append("\n".join(
                "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
                for row in self._rows))
            self._rows = []
