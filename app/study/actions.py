"""What can be done to a study: each action takes one and gives a new one. BadSetting where it can't be."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from app.study import sealing, untold
from app.study.state import Item, Kept, Study, Widening
from data.corrections import Calibration, Shift
from data.label_clock import moved
from data.told import Axes
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


def set_device_value(study: Study, key: str, value: object) -> Study:
    """One number of the device; BadSetting where it can't be."""
    return replace(study, device=study.device.with_value(key, value))


def set_widening(study: Study, widening: Widening) -> Study:
    return replace(study, widening=widening)


def set_mark(study: Study) -> Study:
    """Remember the settings in hand, to see what changes from here."""
    return replace(study, mark=study.settings)


def compare_from_here(study: Study) -> Study:
    """The settings in hand stay as this side; one goes on with the other, which begins with the same."""
    return replace(study, other=study.settings, side=study.other_side)


def copy_side(study: Study) -> Study:
    """The other side takes the settings in hand."""
    return replace(study, other=study.settings)


def switch_side(study: Study) -> Study:
    """Take the other side in hand; nothing changes where there is none."""
    if study.other is None:
        return study
    rule_of(study.other, study.front_end)
    return replace(study, settings=study.other, other=study.settings, side=study.other_side)


def swap_sides(study: Study) -> Study:
    """A's settings become B's and the other way round; the side in hand stays."""
    switched = switch_side(study)
    return replace(switched, side=study.side)


def drop_side(study: Study) -> Study:
    """No longer compare: only the settings in hand are left."""
    return replace(study, other=None, side="A")


def keep_settings(study: Study, note: str, counts: tuple[int, int, int, int]) -> Study:
    """Set the settings in hand aside under a note, in place of the same ones kept before."""
    new = Kept(note, study.settings, study.front_end, counts)
    others = tuple(one for one in study.kept if (one.settings, one.front_end) != (new.settings, new.front_end))
    return replace(study, kept=(*others, new))


def forget_settings(study: Study, forgotten: Kept) -> Study:
    return replace(study, kept=tuple(one for one in study.kept if one != forgotten))


def add_items(study: Study, items: Iterable[Item]) -> Study:
    """New recordings; one of a name that is there already replaces it, and so does what a refused file became. Of the
    same file it keeps the clock that was set for its labels and, read in the same way, its calibration and axes. What
    is of sealed people goes under the seal."""
    new = {item.name: item for item in untold.known_again(study, items)}
    read = {item.path for item in new.values() if not item.refused}
    study = sealing.whole(study)
    kept = tuple(_read_again(item, new.pop(item.name)) if item.name in new else item for item in study.items
                 if item.name in new or not (item.refused and item.path in read))
    return sealing.parted(replace(study, items=kept + tuple(new.values())))


def _read_again(old: Item, new: Item) -> Item:
    if not old.sha256 or old.sha256 != new.sha256:
        return new
    if new.clock == Shift():
        new = replace(new, clock=old.clock, labels=moved(new.labels, new.clock, old.clock))
    same_way = replace(old.recipe, labels=new.recipe.labels) == new.recipe
    return replace(new, calibration=old.calibration, axes=old.axes) if same_way else new


def remove_items(study: Study, names: Iterable[str]) -> Study:
    gone = set(names)
    return replace(study, items=tuple(item for item in study.items if item.name not in gone))


def leave_out(study: Study, names: Iterable[str], reason: str) -> Study:
    """Keep recordings out of the score, with the reason that stands beside it; empty text takes them back in."""
    chosen = set(names)
    return replace(study, items=tuple(replace(item, left_out=reason) if item.name in chosen else item
                                      for item in study.items))


def describe(study: Study, names: Iterable[str], said: Mapping[str, str]) -> Study:
    """Change what is known of recordings: keys of About, new words. A setting is "staged", "free-living" or empty."""
    chosen = set(names)
    return replace(study, items=tuple(replace(item, about=replace(item.about, **said)) if item.name in chosen else item
                                      for item in study.items))


def score_labels_of(study: Study, annotator: str | None) -> Study:
    """Whose labels are scored; None for everybody's."""
    return replace(study, annotator=annotator)


def score_node(study: Study, node: str) -> Study:
    """Of recordings with several nodes the one scored, "any", or empty for the first."""
    return replace(study, node=node)


def calibrate(study: Study, names: Iterable[str], calibration: Calibration | None) -> Study:
    """Keep a calibration with these recordings' node, in place of the one they had; None takes it away."""
    chosen = set(names)
    return replace(study, items=tuple(replace(item, calibration=calibration) if item.name in chosen else item
                                      for item in study.items))


def set_axes(study: Study, names: Iterable[str], axes: Axes | None) -> Study:
    """Say how these recordings' sensor sat, in place of what their recipe says; None goes back to that."""
    chosen = set(names)
    return replace(study, items=tuple(replace(item, axes=axes) if item.name in chosen else item
                                      for item in study.items))


def set_clock(study: Study, names: Iterable[str], clock: Shift) -> Study:
    """Say how the clock that the labels came by stands against these recordings' own: their labels move along."""
    chosen = set(names)
    return replace(study, items=tuple(
        replace(item, clock=clock, labels=moved(item.labels, item.clock, clock)) if item.name in chosen else item
        for item in study.items))


def move_files(study: Study, paths: Mapping[str, tuple[str, ...]]) -> Study:
    """Recordings whose files were found again, under the seal too: name and paths, the first and those that continue
    it."""
    def moved_to(items: Iterable[Item]) -> tuple[Item, ...]:
        return tuple(replace(item, path=paths[item.name][0], more=paths[item.name][1:], refused="")
                     if item.name in paths else item for item in items)

    return replace(study, items=moved_to(study.items), under_seal=moved_to(study.under_seal))


def set_labels(study: Study, name: str, labels: tuple) -> Study:
    """Of one recording, under the seal too: tables of labels are of everybody."""
    item = study.item(name)
    if item is not None:
        return study.with_item(replace(item, labels=labels))
    under_seal = tuple(replace(one, labels=labels) if one.name == name else one for one in study.under_seal)
    return replace(study, under_seal=under_seal)
