"""Self-test recordings held against the device's own limits, from a study or from a file by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from app.study.importing import sources
from app.study.recordings import checks
from app.study.session import Session
from data.problem import Problem
from data.recipe.recipe import Recipe
from data.recordings.calibration import SelfTest
from data.recordings.rest_and_impacts import seconds_of
from detect.device.part.self_test import AXES, expected


@dataclass(frozen=True)
class Checked:
    """One recording's self-test, on from `start_s` to `end_s` of its clock, against `limits` in g for each axis."""

    recording: str
    found: SelfTest
    start_s: float
    end_s: float
    limits: tuple[tuple[float, float], ...]

    @property
    def sentence(self) -> str:
        wrong = [axis for axis, good, cut in zip(AXES, self.found.within, self.found.clipped, strict=True)
                 if not good and not cut]
        said = f"On from {self.start_s:.2f} to {self.end_s:.2f} s: "
        cut = [axis for axis, one in zip(AXES, self.found.clipped, strict=True) if one]
        if cut:
            said += (f"no result for {' and '.join(cut)}, which stood at the end of the range: record it again with a "
                     "larger one" + ("; " if wrong else "."))
            if not wrong:
                return said
        if not wrong:
            return f"{said}every axis is within its limits."
        return f"{said}{' and '.join(wrong)} outside: the sensor or its supply is at fault, or it was moved."


def session_of(source: Path, recipe: Recipe) -> Session:
    """A study's session, or one made of a recording by itself. Raises Problem where it can't be read."""
    if sources.sorted_out([source]).study is not None:
        return Session.opened(source)
    session = Session()
    batch = sources.read([source], recipe)
    for problem in sources.problems_of(batch):
        raise problem
    session.take_batch(batch, recipe)
    return session


def checked(session: Session, names: Sequence[str] = (), on_s: tuple[float, float] | None = None) \
        -> tuple[Checked, ...]:
    """Each recording named against the limits of the study's device; without names the only recording there is.

    Raises Problem, and BadSetting where the limits contradict each other.
    """
    study, library = session.study, session.library
    limits = expected(study.device, study.front_end)
    if not names and len(library) != 1:
        raise Problem("option", f"The study has {len(library)} readable recordings.",
                      "Name the recording that holds the self-test.")
    found = []
    for name in names or list(library):
        one = checks.self_test_of(study, library, name, limits, on_s)
        start, end = seconds_of(library[name], np.array([one.first, one.last])).tolist()
        found.append(Checked(name, one, start, end, limits))
    return tuple(found)


def rows(one: Checked) -> tuple[tuple[str, str, str, str], ...]:
    """Axis, deflection, limits and verdict."""
    return tuple((axis, f"{g:+.3f} g", f"{low:.4g} … {high:.4g} g", "NO RESULT" if cut else "within" if good else
                  "OUTSIDE")
                 for axis, g, (low, high), good, cut in zip(AXES, one.found.deflection_g, one.limits, one.found.within,
                                                            one.found.clipped, strict=True))


def plain(one: Checked) -> dict[str, Any]:
    return {"recording": one.recording, "passed": one.found.passed, "start_s": one.start_s, "end_s": one.end_s,
            "first": one.found.first, "last": one.found.last, "deflection_g": list(one.found.deflection_g),
            "within": list(one.found.within), "clipped": list(one.found.clipped),
            "limits_g": [list(pair) for pair in one.limits],
            "sentence": one.sentence}
