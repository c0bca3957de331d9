"""Putting an export's files into a folder: never through a link, and never a new header beside old vectors."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from app.study.pipeline import Progress
from data.atomic_file import write_atomically
from data.problem import Problem, os_refusals
from detect.firmware.export import MANIFEST
from detect.firmware.header import writer


def write_folder(folder: Path, files: Mapping[str, bytes], progress: Progress) -> list[Path]:
    """Every file of an export, by name and content, at its place below the folder, which is made if it isn't there.

    The old manifest goes first and the new one comes last, after the header: whatever ends this in between leaves a
    folder without a manifest, which tells that it is not whole, and a new header only where all else is new.
    Raises Problem where a file can't be written, or where it or the folder is a symbolic link: then nothing is changed.
    """
    inside = {folder / name for name in files}
    for path in sorted({folder, *inside, *(path.parent for path in inside)}):
        if path.is_symlink():
            raise Problem("link", "is a symbolic link; an export would change what it leads to.",
                          "Remove the link, or choose another folder.", file=str(path))
    with os_refusals(str(folder), "save"):
        folder.mkdir(parents=True, exist_ok=True)
        (folder / MANIFEST).unlink(missing_ok=True)
    in_order = sorted(files, key=lambda name: (name == MANIFEST, name == writer.NAME))
    for at, name in enumerate(in_order):
        progress(at / len(files))
        with os_refusals(str(folder), "save"):
            (folder / name).parent.mkdir(exist_ok=True)
        write_atomically(folder / name, files[name], through_links=False)
    return [folder / name for name in files]
