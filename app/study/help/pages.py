"""The help pages: which there are, as HTML with the report's template, as plain text, and what holds some words.

Every key of the window is one sheet, which a test holds to what the window really does.
"""

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
from app.study.report.cautions import BINDING, CAUTIONS, OF_DEMO, PUBLISHED
from app.study.report.html_page import environment
from app.study.report.versions import program_version
from detect.rule.settings import PARAMETERS, Unit

if TYPE_CHECKING:
    from markupsafe import Markup


SHORTCUTS: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    ("Study", (
        ("Ctrl+O", "Open…"), ("Ctrl+Alt+O", "Import with options…"), ("Ctrl+N", "New study"), ("Ctrl+D", "Open demo"),
        ("Ctrl+S", "Save study"), ("Ctrl+Shift+S", "Save study as…"), ("Ctrl+E", "Export header…"),
        ("Ctrl+Alt+R", "Report and archive…"), ("Ctrl+Q", "Quit"))),
    ("Edit", (
        ("Ctrl+Z", "Undo"), ("Ctrl+Shift+Z or Ctrl+Y", "Redo"), ("Ctrl+M", "Set reference"),
        ("Ctrl+B", "Switch between A and B"), ("Ctrl+Shift+F", "Find settings…"),
        ("Ctrl+Alt+Y", "Carry over…"), ("F5", "Score again"),
        ("Ctrl+Shift+M", "Copy score as text"), ("Ctrl+Shift+A", "Copy attempts as text"),
        ("Ctrl+Shift+P", "Copy current tab as text"), ("Ctrl+Alt+M", "Copy map or curve as text"))),
    ("Recordings", (
        ("Alt+Down", "Next recording"), ("Alt+Up", "Previous recording"), ("Ctrl+I", "Edit properties…"),
        ("Ctrl+L", "Leave out of score…"), ("Ctrl+Shift+L", "Return to score"),
        ("Del", "in the list: Remove from study"), ("Ctrl+C", "in the list: Copy selected rows as text"),
        ("Ctrl+Shift+C", "Copy table as text"), ("Ctrl+R", "Record from boards…"), ("Ctrl+Alt+Q", "Check quality…"),
        ("Ctrl+Alt+K", "Calibration and self-test…"), ("Ctrl+Alt+S", "Sealed set…"),
        ("Ctrl+Alt+X", "Delete a person's recordings…"),
        ("F5, F6, F7, F8", "while boards are recorded: Start fall, Start activity, End label, Undo label"),
        ("Ctrl+Alt+A", "Sensor orientation…"), ("Ctrl+Alt+F", "Locate missing recordings…"))),
    ("Labels", (
        ("F2", "Go to label lane"), ("Ctrl+Alt+L", "Import labels…"), ("Ctrl+Alt+W", "Export labels…"),
        ("Ctrl+Alt+T", "All labels…"),
        ("Ctrl+Alt+E", "Label whole recordings…"), ("Ctrl+Alt+N", "Propose onsets"),
        ("Ctrl+Alt+D", "Check labels…"), ("Ctrl+Alt+C", "Label time offset…"))),
    ("Go to", (
        ("Ctrl+F", "Filter"), ("Ctrl+1", "Recordings"), ("Ctrl+2", "Trace"), ("Ctrl+3", "Settings"),
        ("Ctrl+4", "Score"), ("Ctrl+5", "Attempts"), ("Ctrl+6", "Breakdown"), ("Ctrl+7", "Side by side"),
        ("Ctrl+8", "A and B"), ("Ctrl+9", "History"), ("Ctrl+0", "Map and curve"), ("Ctrl+Shift+D", "Device…"),
        ("Ctrl+Alt+J", "Messages…"), ("F10", "Menu"), ("F1", "Help"),
        ("Shift+F1", "About Plumbfall…"))),
    ("View", (
        ("Ctrl+Alt+0", "Follow system"), ("Ctrl+Alt+1", "Light"), ("Ctrl+Alt+2", "Dark"), ("Ctrl+,", "Preferences…"))),
    ("Trace", (
        ("Left, Right", "Playhead by a sample; with Shift by ten, with Ctrl by a second"),
        ("Home, End", "Playhead to either end"), ("Space", "Play or stop"), ("1, 2, 4", "Speed of playing"),
        ("0", "Fit the whole recording"), ("Ctrl++", "Zoom in"), ("Ctrl+-", "Zoom out"),
        ("Ctrl+[", "Trim: begin at the playhead"), ("Ctrl+]", "Trim: end at the playhead"),
        ("Ctrl+\\", "Take the trimmed ends back"), ("Ctrl+Alt+U", "Sensor orientation from playhead…"),
        ("Ctrl+C", "Copy samples in view as text"), ("Ctrl+Alt+G", "Save trace as picture…"))),
    ("Label lane", (
        ("Ins", "New label at playhead"), ("W", "Label whole recording"), ("Down, Up", "Next label, previous label"),
        ("F", "Label as fall"), ("O", "Label as other activity"), ("1 to 9", "Set one of the activities in use"),
        ("N", "Name activity…"), ("C", "Comment…"), ("A", "Annotator…"), ("Shift+A", "Annotator of new labels…"),
        ("[", "Start at playhead"), ("]", "End at playhead"), ("S", "Split at playhead"), ("J", "Join with next"),
        ("Return", "Confirm proposed onset"), ("Del", "Remove label"),
        ("Left, Right", "Move by a sample; with Shift by ten"),
        ("Ctrl+Left, Ctrl+Right", "Move the start; with Shift by ten samples"),
        ("Alt+Left, Alt+Right", "Move the end; with Shift by ten samples"), ("K", "Label time offset…"),
        (", and .", "Playhead by a sample"), ("Escape", "Take back the drag"))),
)


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
