"""A small session made in memory: people who fall in ways that the rule catches and misses, and who do other things."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from app.study.session import Session
from app.study.state import Item, Study
from data.recordings.model import About, Label, Recording, Stretch

RATE_HZ = 50.0
IMPACT = 500
"""Sample of the impact in every recording that has one."""


def story(free_fall_g: float = 0.2, low: int = 15, impact_g: float = 3.0, turned: bool = True, moving_g: float = 0.0,
          seconds: float = 20.0) -> np.ndarray:
    """Standing, a low row that ends two samples before sample 500, an impact there, lying: (n, 3) in g.

    `moving_g`: the amplitude of a tremble afterwards, which is also its root mean square.
    """
    n = int(seconds * RATE_HZ)
    x, y = np.zeros(n), np.ones(n)
    y[IMPACT - 2 - low:IMPACT - 2] = free_fall_g
    x[IMPACT], y[IMPACT] = impact_g, 0.0
    if turned:
        x[IMPACT + 1:], y[IMPACT + 1:] = 1.0, 0.0
    along = x if turned else y
    along[IMPACT + 1:] += moving_g * np.where(np.arange(n - IMPACT - 1) % 2 == 0, 1.0, -1.0)
    return np.column_stack([x, y, np.zeros(n)])


def walk(seconds: float = 20.0, rate_hz: float = RATE_HZ) -> np.ndarray:
    t = np.arange(int(seconds * rate_hz)) / rate_hz
    return np.column_stack([np.zeros_like(t), 1 + 0.25 * np.sin(2 * np.pi * 1.8 * t), np.zeros_like(t)])


def recording(name: str, g: np.ndarray, about: About, rate_hz: float = RATE_HZ, clipped: int = 0) -> Recording:
    return Recording(name, g, "g", rate_hz, rate_hz, True, (Stretch(0, 0.0, 1 / rate_hz),), clipped,
                     sha256=name, about=about)


FALL = Label("fall", "forward", 9.5, 11.5)


def one(name: str, g: np.ndarray, labels: Sequence[Label], setting: str = "staged", rate_hz: float = RATE_HZ,
        clipped: int = 0) -> tuple[Item, Recording]:
    """An item and its samples; the name is "person activity trial"."""
    person, activity, trial = name.split()
    about = About(person, activity, "waist", trial, setting=setting)
    return (Item(name, f"/made/{name}.csv", name, about, tuple(labels)),
            recording(name, g, about, rate_hz, clipped))


def session_of(made: Sequence[tuple[Item, Recording]]) -> Session:
    session = Session(Study("Made", tuple(item for item, _ in made)))
    session.library.update({item.name: samples for item, samples in made})
    return session


def made() -> list[tuple[Item, Recording]]:
    """Under the default settings: two falls caught; one missed for each of impact, tilt, still and free fall; a false
    alarm; two quiet; an hour and a half of free living with two unlabelled alarms."""
    whole = (Label("other", "walk", None, None),)
    free_living = np.concatenate([story(seconds=1800), story(seconds=3600)])
    return [
        one("W01 trip 1", story(), [FALL]),
        one("W02 trip 1", story(impact_g=4.0), [FALL]),
        one("W01 low 1", story(impact_g=1.69), [FALL]),
        one("W02 slide 1", story(turned=False), [FALL]),
        one("W01 writhe 1", story(moving_g=0.19), [FALL]),
        one("W02 slump 1", story(low=2), [FALL]),
        one("W01 flop 1", story(), [Label("other", "flop", None, None)]),
        one("W01 walk 1", walk(), whole),
        one("W02 walk 1", walk(), whole),
        one("W01 day 1", free_living, [], "free-living"),
    ]


def session() -> Session:
    return session_of(made())
