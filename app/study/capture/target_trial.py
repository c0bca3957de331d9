"""The exported detector on a target, tried with a study's recordings or the golden vectors."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from app.study.capture.sources import Source, opened
from app.study.session import Session
from app.study.storage.study_files import settings_from
from detect.firmware.check import API_VERSION, difference_of
from detect.firmware.hardware import Begun, Effort, Target, TargetFailed
from detect.firmware.header import writer
from detect.firmware.header.fields import ring_words
from detect.firmware.header.identity import identity as identity_of
from detect.firmware.vectors.boundary_cases import golden_parts, own_part
from detect.firmware.vectors.detector import VectorCase, expected
from detect.rule.integers import Rule, rule_of

Progress = Callable[[float], None]


@dataclass(frozen=True)
class Trial:
    """`differences`: a sentence for each recording or vector that came out otherwise. `left_out`: vectors whose ring is
    larger than the target's."""

    begun: Begun
    tried: int
    attempts: int
    left_out: int
    differences: tuple[str, ...]
    effort: Effort

    @property
    def passed(self) -> bool:
        return self.tried > 0 and not self.differences


def try_study(source: Source, folder: Path, session: Session, real_time: bool = False,
              progress: Progress | None = None) -> Trial:
    """Every recording of the study under the folder's settings. Problem where line or folder can't be opened,
    TargetFailed where the target does not play along."""
    session.adopt(settings_from(folder / writer.NAME, session.study.front_end))
    names = [item.name for item in session.study.items if session.explained(item.name) is not None]
    rule = rule_of(session.study.settings, session.study.front_end)
    identity = identity_of(rule, session.study.front_end)
    pace = None
    opened(source)
    try:
        target = Target(source)
        begun = target.begin()
        _same_settings(begun, identity)
        differences, attempts = [], 0
        for i, name in enumerate(names):
            explained = session.explained(name)
            assert explained is not None
            if real_time:
                pace = _Pace(session.study.front_end.rate_hz)
            found = target.attempts(explained.seen.stretches(), pace=pace)
            attempts += len(found)
            if (difference := difference_of(list(explained.attempts), found)) is not None:
                differences.append(f"{name}: {difference}")
            if progress is not None:
                progress((i + 1) / len(names))
        return Trial(begun, len(names), attempts, 0, tuple(differences), target.effort)
    finally:
        source.close()


def try_vectors(source: Source, rule: Rule, identity: int, progress: Progress | None = None) -> Trial:
    """Every golden vector that the target's ring can hold, those of the folder's own settings too."""
    cases = [case for part in (*golden_parts(), own_part(rule)) for case in part.cases]
    opened(source)
    try:
        target = Target(source)
        begun = target.begin()
        _same_settings(begun, identity)
        differences, attempts, tried = [], 0, 0
        for i, case in enumerate(cases):
            if ring_words(case.rule) > begun.ring_words:
                continue
            tried += 1
            samples, gaps = unrolled(case)
            found = target.steps(samples, gaps, case.rule)
            attempts += len(found)
            if (difference := difference_of(expected(case), found)) is not None:
                differences.append(f"{case.name}: {difference}")
            if progress is not None:
                progress((i + 1) / len(cases))
        return Trial(begun, tried, attempts, len(cases) - tried, tuple(differences), target.effort)
    finally:
        source.close()


class _Pace:
    """Holds each sample back until it would have been taken."""

    def __init__(self, rate_hz: float) -> None:
        self._rate_hz, self._began = rate_hz, time.monotonic()

    def __call__(self, number: int) -> None:
        time.sleep(max(0.0, self._began + number / self._rate_hz - time.monotonic()))


def _same_settings(begun: Begun, identity: int) -> None:
    if begun.api_version != API_VERSION:
        raise TargetFailed(f"The target has C API {begun.api_version}; this program speaks {API_VERSION}. Export again "
                           "and flash it.")
    if begun.identity != identity:
        raise TargetFailed(f"The target has the settings 0x{begun.identity:08X}, the folder 0x{identity:08X}: flash "
                           "what this folder builds.")


def unrolled(case: VectorCase) -> tuple[np.ndarray, list[int]]:
    """A vector's samples one by one, and the numbers before which there is a gap."""
    rows: list[np.ndarray] = []
    gaps, count = [], 0
    for run in case.runs:
        if run.times == 0:
            gaps.append(count)
        else:
            rows.append(np.tile(np.array([[run.x, run.y, run.z]], np.int16), (run.times, 1)))
            count += run.times
    return np.vstack(rows) if rows else np.zeros((0, 3), np.int16), gaps
