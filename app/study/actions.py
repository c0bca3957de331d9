"""What can be done to a study: each action takes one and gives a new one. BadSetting where it can't be."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from app.study.sealed import disclosure, sealed_set
from app.study.state import Item, KeptSettings, Study, Widening
from data.labels.label_clock import moved
from data.recipe.sections import Axes
from data.recordings.model import Calibration, Shift
from data.study.intended_use import IntendedUse
from data.study.tuned_record import TunedRecord
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import BadSetting, Settings, Value


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


MOST_TUNED = 12
"""So many searches are remembered whose settings were used."""


def use_chosen(study: Study, settings: Settings, front_end: FrontEnd, record: TunedRecord | None) -> Study:
    """Settings with their front end, and what the search that found them says they are worth, if one did."""
    study = set_both(study, settings, front_end)
    if record is None:
        return study
    others = tuple(one for one in study.tuned if (one.settings, one.front_end) != (record.settings, record.front_end))
    return replace(study, tuned=(*others, record)[-MOST_TUNED:])


def set_intended_use(study: Study, use: IntendedUse) -> Study:
    return replace(study, intended_use=use)


def set_device_value(study: Study, key: str, value: object) -> Study:
    """One number of the device; BadSetting where it can't be."""
    return replace(study, device=study.device.with_value(key, value))


def set_widening(study: Study, widening: Widening) -> Study:
    return replace(study, widening=widening)


def set_loss_limit(study: Study, share: float) -> Study:
    """Of a node's samples that may be lost while recording, 0 to 1."""
    if not 0 <= share <= 1:
        raise BadSetting("loss_limit", share, "is not a share of samples.", "Choose 0 to 100 %.")
    return replace(study, loss_limit=share)


def set_mark(study: Study, settings: Settings | None = None) -> Study:
    """Remember settings, to see what changes from there: the current ones where no others are given."""
    return replace(study, mark=settings or study.settings)


def compare_from_here(study: Study) -> Study:
    """The current settings stay as this side; one goes on with the other, which begins with the same."""
    return replace(study, other=study.settings, side=study.other_side)


def copy_side(study: Study) -> Study:
    """The other side takes the current settings."""
    return replace(study, other=study.settings)


def switch_side(study: Study) -> Study:
    """Switch to the other side; nothing changes where there is none."""
    if study.other is None:
        return study
    rule_of(study.other, study.front_end)
    return replace(study, settings=study.other, other=study.settings, side=study.other_side)


def swap_sides(study: Study) -> Study:
    """A's settings become B's and the other way round; the current side stays."""
    switched = switch_side(study)
    return replace(switched, side=study.side)


def drop_side(study: Study) -> Study:
    """No longer compare: only the current settings are left."""
    return replace(study, other=None, side="A")


def keep_settings(study: Study, note: str, counts: tuple[int, int, int, int]) -> Study:
    """Set the current settings aside under a note, in place of the same ones kept before."""
    new = KeptSettings(note, study.settings, study.front_end, counts)
    others = tuple(one for one in study.kept if (one.settings, one.front_end) != (new.settings, new.front_end))
    return replace(study, kept=(*others, new))


def note_export(study: Study, exported: KeptSettings) -> Study:
    """Keep what was exported, unless it is kept under a note already. It becomes the reference only where none is set:
    what a person compares with stays what they chose."""
    known = any((one.settings, one.front_end) == (exported.settings, exported.front_end) for one in study.kept)
    kept = study.kept if known else (*study.kept, exported)
    return replace(study, kept=kept, mark=study.mark or exported.settings)


def forget_settings(study: Study, forgotten: KeptSettings) -> Study:
    return replace(study, kept=tuple(one for one in study.kept if one != forgotten))


def add_items(study: Study, items: Iterable[Item]) -> Study:
    """New recordings; one of a name that is there already replaces it, and so does what a refused file became. Of the
    same file it keeps the clock that was set for its labels and, read in the same way, its calibration and axes. What
    is of sealed people goes under the seal."""
    new = {item.name: item for item in disclosure.known_again(study, items)}
    read = {item.path for item in new.values() if not item.refused}
    study = sealed_set.whole(study)
    kept = tuple(_read_again(item, new.pop(item.name)) if item.name in new else item for item in study.items
                 if item.name in new or not (item.refused and item.path in read))
    return sealed_set.parted(replace(study, items=kept + tuple(new.values())))


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


def _each(study: Study, names: Iterable[str], change: Callable[[Item], Item]) -> Study:
    """The study with these of its recordings changed."""
    chosen = set(names)
    return replace(study, items=tuple(change(item) if item.name in chosen else item for item in study.items))


def leave_out(study: Study, names: Iterable[str], reason: str) -> Study:
    """Keep recordings out of the score, with the reason that stands beside it; empty text takes them back in."""
    return _each(study, names, lambda item: replace(item, left_out=reason))


def describe(study: Study, names: Iterable[str], said: Mapping[str, str]) -> Study:
    """Change what is known of recordings: keys of About, new words. A setting is "staged", "free-living" or empty."""
    return _each(study, names, lambda item: replace(item, about=item.about.with_told(said)))


def score_labels_of(study: Study, annotator: str | None) -> Study:
    """Whose labels are scored; None for everybody's."""
    return replace(study, annotator=annotator)


def score_node(study: Study, node: str) -> Study:
    """Of recordings with several nodes the one scored, "any", or empty for the first."""
    return replace(study, node=node)


def calibrate(study: Study, names: Iterable[str], calibration: Calibration | None) -> Study:
    """Keep a calibration with these recordings' node, in place of the one they had; None takes it away."""
    return _each(study, names, lambda item: replace(item, calibration=calibration))


def set_axes(study: Study, names: Iterable[str], axes: Axes | None) -> Study:
    """Set the orientation of these recordings' sensor, in place of what their recipe says; None goes back to that."""
    return _each(study, names, lambda item: replace(item, axes=axes))


def set_clock(study: Study, names: Iterable[str], clock: Shift) -> Study:
    """Say how the clock that the labels came by stands against these recordings' own: their labels move along."""
    return _each(study, names, lambda item: replace(item, clock=clock, labels=moved(item.labels, item.clock, clock)))


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


_HALVINGS = 40


def as_far_as_allowed(study: Study, key: str, value: float) -> tuple[Study, BadSetting | None]:
    """The study with the setting moved from where it is towards `value`, as far as the rule can run with it.

    The refusal is None where it got there. Between a setting's place and the asked one there is at most one
    bound, so halving finds it; the place found is rounded to a thousandth of the way on the allowed side.
    """
    try:
        return set_value(study, key, value), None
    except BadSetting as refused:
        refusal = refused
    allowed, forbidden = study.settings.number(key), value
    for _ in range(_HALVINGS):
        middle = (allowed + forbidden) / 2
        if _runs(study, key, middle):
            allowed = middle
        else:
            forbidden = middle
    for digits in range(7):
        rounded = round(allowed, digits)
        if abs(rounded - allowed) <= 1e-3 * max(abs(allowed), 1e-3) and _runs(study, key, rounded):
            return set_value(study, key, rounded), refusal
    return set_value(study, key, allowed), refusal


def _runs(study: Study, key: str, value: Value) -> bool:
    try:
        set_value(study, key, value)
    except BadSetting:
        return False
    return True
