"""Sensor parts of one's own, kept inside the study: read from their files once, compared and taken from then on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from app.study import actions
from app.study.device.parts import TYPICAL, Candidate, candidates
from app.study.state import Study
from data.parts.part_file import PartFile, load
from data.problem import Problem
from detect.rule.settings import BadSetting


def read(study: Study, paths: Sequence[Path]) -> Study:
    """The study with these files' parts; one of a name that is there already replaces it. Raises Problem, also where a
    number is none of the device's."""
    new = {part.name: part for part in map(load, paths)}
    candidates(study, tuple(new.values()))
    kept = tuple(new.pop(one.name, one) for one in study.parts)
    return replace(study, parts=(*kept, *new.values()))


def without(study: Study, name: str) -> Study:
    """The study without the part of this name."""
    return replace(study, parts=tuple(one for one in study.parts if one.name != name))


def parts_of(study: Study, paths: Sequence[Path] = ()) -> tuple[PartFile, ...]:
    """Those of the files named, else the study's own, else the typical ones. Raises Problem."""
    if paths or not study.parts:
        return tuple(load(path) for path in paths or sorted(TYPICAL.glob("*.toml")))
    return study.parts


def part_named(study: Study, text: str) -> PartFile:
    """The study's own part of this name, else the part of this file. Raises Problem."""
    return next((one for one in study.parts if one.name == text), None) or load(Path(text))


def used(study: Study, candidate: Candidate) -> Study:
    """The study on this range of this part: its numbers, and what the rule sees of it. Raises Problem where its
    settings can't run on that."""
    try:
        return replace(actions.set_front_end(study, candidate.front_end), device=candidate.values)
    except BadSetting as bad:
        raise Problem("part_file", f"{candidate.name}: {bad.key} {bad.message}", bad.remedy) from None
