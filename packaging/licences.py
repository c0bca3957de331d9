"""Gathers the licence texts of the locked runtime packages into app/licences, from the wheels in `.venv`."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

from places import LOCK, ROOT

LICENCES = ROOT / "app" / "licences"


def pinned(lock: Path) -> dict[str, str]:
    """Release by package name, as a lock file has them."""
    return dict(re.findall(r"^([\w.-]+)==(\S+)", lock.read_text(encoding="utf-8"), re.MULTILINE))


def write_licences(site_packages: Path) -> None:
    """One file a package, in place of what was there; a package that brings no text gets none."""
    shutil.rmtree(LICENCES / "texts", ignore_errors=True)
    (LICENCES / "texts").mkdir(parents=True)
    for name, version in pinned(LOCK).items():
        texts = _texts(site_packages, name, version)
        if texts:
            (LICENCES / "texts" / f"{name}.txt").write_text("\n\n".join(texts), encoding="utf-8", newline="\n")


def _texts(site_packages: Path, name: str, version: str) -> list[str]:
    """Every licence file a wheel brings, each under its own name."""
    base = re.sub(r"[-_.]+", "_", name)
    folder, = (path for path in site_packages.glob("*.dist-info")
               if path.name.lower() == f"{base}-{version}.dist-info".lower())
    files = [path for path in sorted(folder.rglob("*"))
             if path.is_file() and re.search("LICEN[CS]E|COPYING|HAVEN_MIT", path.as_posix().partition(folder.name)[2])
             and not path.name.startswith("AUTHORS")]
    return [f"==== {path.relative_to(folder).as_posix().removeprefix('licenses/')} ====\n\n"
            + path.read_text(encoding="utf-8", errors="replace").replace("\r\n", "\n").strip() + "\n" for path in files]
