"""What can be done to a study: each action takes one and gives a new one. BadSetting where it can't be."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from app.study.state import Item, Study, Widening
from detect.frontend import FrontEnd
from detect.rule import rule_of
from detect.settings import Settings


def set_value(study: Study, key: str, value: object) -> Study:
    """One setting asked for, in its physical unit."""
    return set_settings(study, study.settings.with_value(key, value))


def set_settings(study: Study, settings: Settings) -> Study:
    rule_of(settings, study.front_end)
    return replace(study, settings=settings)


def set_front_end(study: Study, front_end: FrontEnd) -> Study:
    rule_of(study.settings, front_end)
    return replace(study, front_end=front_end)


def set_both(study: Study, settings: Settings, front_end: FrontEnd) -> Study:
    """Settings and front end together, as a header or a settings file brings them."""
    rule_of(settings, front_end)
    return replace(study, settings=settings, front_end=front_end)


def set_widening(study: Study, widening: Widening) -> Study:
    return replace(study, widening=widening)


def set_mark(study: Study) -> Study:
    """Remember the settings in hand, to see what changes from here."""
    return replace(study, mark=study.settings)


def add_items(study: Study, items: Iterable[Item]) -> Study:
    """New recordings; one of a name that is there already replaces it."""
    new = {item.name: item for item in items}
    kept = tuple(new.pop(item.name, item) for item in study.items)
    return replace(study, items=kept + tuple(new.values()))


def remove_items(study: Study, names: Iterable[str]) -> Study:
    gone = set(names)
    return replace(study, items=tuple(item for item in study.items if item.name not in gone))


def leave_out(study: Study, names: Iterable[str], reason: str) -> Study:
    """Keep recordings out of the score, with the reason that stands beside it; empty text takes them back in."""
    chosen = set(names)
    return replace(study, items=tuple(replace(item, left_out=reason) if item.name in chosen else item
                                      for item in study.items))


def set_labels(study: Study, name: str, labels: tuple) -> Study:
    item = study.item(name)
    return study if item is None else study.with_item(replace(item, labels=labels))
