"""What a report is made of: sections of sentences, tables and plots. The HTML, the JSON and the CSVs are drawn from
these alone, so that none of them can say what another doesn't."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict, dataclass, replace
from typing import Any

from app.study.report.plots import Plot, plot_from

DONE, STALE, MISSING = "done", "stale", "missing"
"""States of a section: up to date; of other inputs than the study's; never computed."""


@dataclass(frozen=True)
class Table:
    """`key` names its CSV. `numbers`: columns of figures. `note`: what holds for the whole table."""

    key: str
    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: tuple[int, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Section:
    """`state`: DONE, or why it can't be relied on, which `said` explains. `warnings`: sentences that stand out.
    `unverified`: assumptions of it that nobody checked."""

    key: str
    title: str
    said: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    plots: tuple[Plot, ...] = ()
    warnings: tuple[str, ...] = ()
    unverified: tuple[str, ...] = ()
    state: str = DONE


@dataclass(frozen=True)
class Headline:
    """One of the first figures: its name, the figure, what it is of, and its 95 % interval, by people where known."""

    name: str
    figure: str
    of: str
    interval: str


@dataclass(frozen=True)
class Dossier:
    """`identity`: of the firmware's settings, in hexadecimal. `headlines`: left out first. `against`: how many standing
    warnings, and the worst; empty without any."""

    title: str
    notes: str
    identity: str
    headlines: tuple[Headline, ...]
    sections: tuple[Section, ...]
    against: str = ""

    @property
    def open_points(self) -> tuple[tuple[Section, str], ...]:
        """Everything that is missing, stale or not verified, with its section."""
        return tuple((section, said) for section in self.sections
                     for said in (*(section.said[:1] if section.state != DONE else ()), *section.unverified))


def as_csv(table: Table) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(table.columns)
    writer.writerows(table.rows)
    return out.getvalue().encode()


def plain(thing: Dossier | Section) -> dict[str, Any]:
    """For JSON."""
    return asdict(thing)


def section_from(plain: dict[str, Any]) -> Section:
    """The section that `plain` made values of. Raises KeyError, TypeError or ValueError where they are none."""
    tables = tuple(Table(one["key"], one["title"], tuple(one["columns"]), tuple(tuple(row) for row in one["rows"]),
                         tuple(one["numbers"]), one["note"]) for one in plain["tables"])
    texts = {key: tuple(str(one) for one in plain[key]) for key in ("said", "warnings", "unverified")}
    return Section(plain["key"], plain["title"], texts["said"], tables, tuple(map(plot_from, plain["plots"])),
                   texts["warnings"], texts["unverified"], plain["state"])


def outdated(section: Section, why: str) -> Section:
    """The section as it was, with what it is no longer of above it."""
    return replace(section, said=(why, *section.said), state=STALE)


def missing(key: str, title: str, why: str) -> Section:
    return Section(key, title, (why,), state=MISSING)
