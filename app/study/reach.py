"""How far a setting may be moved before the rule's integers forbid it."""

from __future__ import annotations

from app.study import actions
from app.study.state import Study
from detect.settings import BadSetting, Value

_HALVINGS = 40


def as_far_as_allowed(study: Study, key: str, value: float) -> tuple[Study, BadSetting | None]:
    """The study with the setting moved from where it is towards `value`, as far as the rule can run with it.

    The refusal is None where it got there. Between a setting's place and the asked one there is at most one
    bound, so halving finds it; the place found is rounded to a thousandth of the way on the allowed side.
    """
    try:
        return actions.set_value(study, key, value), None
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
            return actions.set_value(study, key, rounded), refusal
    return actions.set_value(study, key, allowed), refusal


def _runs(study: Study, key: str, value: Value) -> bool:
    try:
        actions.set_value(study, key, value)
    except BadSetting:
        return False
    return True
