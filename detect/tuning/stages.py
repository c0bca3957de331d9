"""What each stage of a rule does to the events: which activities it rejects, and which falls it costs."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from detect.rule import Rule
from detect.score import CAUGHT, FALSE_ALARM, MISSED, QUIET
from detect.tuning.tally import Tally

OFF: Mapping[str, Callable[[Rule], Rule]] = {
    "free_fall": lambda rule: replace(rule, free_fall_on=False),
    "busy": lambda rule: replace(rule, busy_on=False),
    "tilt": lambda rule: replace(rule, tilt_on=False),
    "reclined": lambda rule: replace(rule, reclined_on=False),
    "still": lambda rule: replace(rule, still_on=False),
}
"""Stages that can be off, in the order in which the rule comes to them, and the rule without each."""


@dataclass(frozen=True, eq=False)
class Effect:
    """Of one stage, by group: activities that it alone keeps quiet, and falls that it alone makes missed.

    "impact" is what is left: events in which nothing hits hard enough, whatever the other stages do.
    """

    stage: str
    rejects: np.ndarray
    costs: np.ndarray


def effects(tally: Tally, rule: Rule, group: np.ndarray, groups: int) -> tuple[Effect, ...]:
    """Each stage that is on, by leaving it off; `group` (events,) numbers each event's activity.

    An event that two stages reject is neither's alone.
    """
    now = tally.outcomes(rule)
    found = []
    bare_rule = rule
    for stage, without in OFF.items():
        if without(rule) != rule:
            found.append(_effect(stage, now, tally.outcomes(without(rule)), group, groups))
            bare_rule = without(bare_rule)
    bare = tally.outcomes(bare_rule)
    nothing = np.where(np.isin(bare, (MISSED, QUIET)), bare, -1)
    found.append(Effect("impact", _number(nothing == QUIET, group, groups), _number(nothing == MISSED, group, groups)))
    return tuple(found)


def _effect(stage: str, now: np.ndarray, without: np.ndarray, group: np.ndarray, groups: int) -> Effect:
    return Effect(stage, _number((now == QUIET) & (without == FALSE_ALARM), group, groups),
                  _number((now == MISSED) & (without == CAUGHT), group, groups))


def _number(which: np.ndarray, group: np.ndarray, groups: int) -> np.ndarray:
    return np.bincount(group[which], minlength=groups)
