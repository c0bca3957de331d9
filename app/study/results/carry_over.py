"""How settings do where they were not tuned: one table of studies and settings, each cell with its intervals. No Qt.

A cell is the whole detector, settings and sensor, on a study's recordings. Where a search found the settings on just
these recordings, the cell is that search's figure on people left out: anything else would flatter them beside settings
that were found elsewhere.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from app.formatting import MINUS
from app.study.importing.sources import sorted_out
from app.study.recordings import nodes
from app.study.results import worth
from app.study.results.score_json import figures_plain
from app.study.session import Session
from app.study.state import Item
from app.study.storage.study_files import Chosen, settings_from

CAUTION = ("An engineering aid, not a medical device. Figures on people whom the settings were tuned on flatter them; "
           "studies differ in people, placement and activities too, not only in how they were tuned.")

LEFT_OUT, TUNED_ON, SCORED = "left out", "tuned on", "not tuned on"
"""What a cell's people are to its settings: left out of the search that found them; those that it saw, where something
changed since; or people of another study, or settings that no search found."""


@dataclass(frozen=True)
class CarriedCell:
    """One study under some settings. `figures` as in a score; `basis` one of LEFT_OUT, TUNED_ON and SCORED."""

    study: str
    settings: str
    basis: str
    figures: dict[str, Any]


def own(session: Session) -> Chosen:
    """A study's own settings, with what a search said of them."""
    study, found = session.study, session.worth()
    return Chosen(study.settings, study.front_end, tuned=None if found is None or found.changed else found.record)


def table(studies: Sequence[tuple[str, Session]], settings: Sequence[tuple[str, Chosen]]) -> list[CarriedCell]:
    """Every study, each under all of the settings; then each part by part. The sessions stay as they are. Raises
    Problem or BadSetting where settings can't run."""
    cells = [_cell(name, session, title, chosen) for name, session in studies for title, chosen in settings]
    return [*cells, *(cell for name, session in studies for cell in within(name, session))]


def beside(session: Session, paths: Sequence[Path]) -> list[CarriedCell]:
    """The open study, its parts, and it beside studies and settings of other files. Raises Problem or BadSetting."""
    studies = [path for path in paths if sorted_out([path]).study is not None]
    own_name = session.study.title or "this study"
    names = names_of([Path(own_name), *paths])
    both = [(names[0], session), *((name, Session.opened(path)) for name, path in zip(names[1:], paths, strict=True)
                                   if path in studies)]
    settings = [(name, own(one)) for name, one in both]
    settings += [(name, settings_from(path, session.study.front_end))
                 for name, path in zip(names[1:], paths, strict=True) if path not in studies]
    return table(both, settings)


def names_of(paths: Sequence[Path]) -> list[str]:
    """What files are called, the whole path where two are called the same."""
    number = Counter(path.stem for path in paths)
    return [path.stem if number[path.stem] == 1 else str(path) for path in paths]


def within(name: str, session: Session) -> list[CarriedCell]:
    """A study under its own settings, part by part where it has several placements, rates of files or nodes. What a
    search said of people left out was of the whole, as it was scored then, and says nothing of a part."""
    chosen = own(session)
    return [_scored(f"{name}, {part}", _adopted(one, chosen), name, session) for part, one in _parts(session)]


def _parts(session: Session) -> list[tuple[str, Session]]:
    library = session.library
    found = [*_split(session, lambda item: item.about.placement or "placement not specified"),
             *_split(session, lambda item: f"{library[item.name].rate_hz:g} Hz")]
    shown = session.study.node or next(iter(nodes.nodes_of(session.study)), "")
    for node in nodes.nodes_of(session.study):
        if node != shown:
            found.append((f"node {node}", _with(session, node=node)))
    return found


def _split(session: Session, kind: Callable[[Item], str]) -> list[tuple[str, Session]]:
    """By what kind a scored recording is; nothing where all are of one."""
    of = {item.name: kind(item) for item in session.study.items if item.scored and item.name in session.library}
    kinds = sorted(set(of.values())) if len(set(of.values())) > 1 else []
    return [(one, _with(session, items=tuple(item for item in session.study.items if of.get(item.name) == one)))
            for one in kinds]


def _with(session: Session, **changed: Any) -> Session:
    """Another session, on another study of the same samples."""
    there = Session(replace(session.study, **changed), session.path)
    there.library = session.library
    return there


def _adopted(session: Session, chosen: Chosen) -> Session:
    there = session.copied()
    there.adopt(chosen)
    return there


def _cell(name: str, session: Session, title: str, chosen: Chosen) -> CarriedCell:
    there = _adopted(session, chosen)
    found = there.worth()
    if found is None or found.changed or found.stale:
        return _scored(name, there, title, session)
    plain = worth.plain(found)
    assert plain is not None
    return CarriedCell(name, title, LEFT_OUT, plain["left_out"])


def _scored(name: str, there: Session, title: str, tuned: Session) -> CarriedCell:
    """`tuned`: the study whose searches may have seen these people."""
    found = there.worth()
    seen = found is not None and found.record in tuned.study.tuned
    return CarriedCell(name, title, TUNED_ON if seen else SCORED, figures_plain(there))


def plain_cell(cell: CarriedCell) -> dict[str, Any]:
    return {"study": cell.study, "settings": cell.settings, "basis": cell.basis, **cell.figures}


def texts(cell: CarriedCell) -> tuple[str, ...]:
    """Study, settings, basis, caught, false alarms, Youden's J with its interval and the one by people."""
    m, j, by = cell.figures["matrix"], cell.figures["youden_j"], cell.figures["by_people"]
    return (cell.study, cell.settings, cell.basis, f"{m['tp']} of {m['tp'] + m['fn']}",
            f"{m['fp']} of {m['fp'] + m['tn']}", _decimals(j["value"]), _between(j),
            "" if by is None else _between(by["youden_j"]))


HEADS = ("study", "settings", "people are", "caught", "false alarms", "Youden's J", "95 % interval", "by people")


def _between(one: dict[str, float | None]) -> str:
    return "" if one["low"] is None else f"{_decimals(one['low'])} – {_decimals(one['high'])}"


def _decimals(value: float | None) -> str:
    return "no data" if value is None else f"{value:.3f}".replace("-", MINUS)
