"""Presets of one's own: settings files in a folder, to be kept and to be given to others."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path

from app.study.chosen import Chosen, settings_from
from app.study.state import Study
from data.problem import Problem, from_os_error
from data.saving import write_atomically
from detect.frontend import FrontEnd

_NO_NAME = re.compile(r'[<>:"/\\|?*\x00-\x1f]')


@dataclass(frozen=True)
class OwnPreset:
    """A settings file; its title is the file's name."""

    title: str
    path: Path


def found(folder: Path) -> tuple[OwnPreset, ...]:
    """Every settings file of the folder by title; none where there is no folder yet."""
    try:
        paths = sorted(folder.glob("*.json"), key=lambda path: path.stem.casefold())
    except OSError:
        return ()
    return tuple(OwnPreset(path.stem, path) for path in paths)


def path_for(folder: Path, title: str) -> Path:
    """Where a preset of this title is kept. Raises Problem where the title is no name for a file."""
    name = " ".join(_NO_NAME.sub(" ", title).split()).strip(". ")
    if not name:
        raise Problem("preset", f"“{title}” is no name for a file.", "Give the preset a name with letters or digits.")
    return folder / f"{name}.json"


def save(path: Path, study: Study) -> None:
    """The settings in hand with their front end as a settings file. Raises Problem where it can't be written."""
    plain = {"front_end": study.front_end.plain(), "settings": study.settings.plain()}
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise from_os_error(error, str(path.parent), "save") from error
    write_atomically(path, (json.dumps(plain, indent=1) + "\n").encode())


def read(preset: OwnPreset, front_end: FrontEnd) -> Chosen:
    """Raises Problem where the file is gone, no settings file, or for another rule."""
    return settings_from(preset.path, front_end)
