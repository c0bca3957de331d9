"""Makes the lock files anew: which release of what is installed, and the hash of every wheel of it.

pip does the resolving. It is asked twice for this machine (what running needs, what testing needs) and then
once for each kind of machine the lock is to serve, so that the hashes of all their wheels are in. Only names,
versions and hashes are written: where the wheels come from is the installing machine's own affair.
"""

from __future__ import annotations

import json
import subprocess
import tempfile
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from places import LOCK, LOCK_TEST, ROOT, VENV_PYTHON

PYTHONS = ("3.11", "3.12", "3.13", "3.14")

# The oldest systems that Qt's wheels still serve (by glibc on Linux): pip keeps to the wheels whose hashes it
# is given, so newer systems are served with the same.
PLATFORMS: dict[str, list[str]] = {
    "Linux x86_64": [*(f"manylinux_2_{minor}_x86_64" for minor in range(34, 4, -1)), "manylinux2014_x86_64"],
    "Linux aarch64": [*(f"manylinux_2_{minor}_aarch64" for minor in range(39, 4, -1)), "manylinux2014_aarch64"],
    "macOS x86_64": ["macosx_13_0_x86_64"],
    "macOS arm64": ["macosx_13_0_arm64"],
    "Windows x86_64": ["win_amd64"],
    "Windows arm64": ["win_arm64"],
}

# What a dependency asks for on Windows alone, which this machine's own resolving would not show.
WINDOWS_ONLY = ("colorama", "tzdata")

_HEADER = """\
# Made by `python3 packaging/dev.py lock` from pyproject.toml; not edited by hand.
# One hash a wheel: CPython {pythons} on Linux, macOS and Windows.
"""


def write_locks() -> None:
    """Resolve pyproject's pins and write both lock files; prints wheels that a kind of machine lacks."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    runtime = {wheel.pin for wheel in _chosen([*project["dependencies"], *WINDOWS_ONLY], [])}
    wheels = _chosen([*sorted(runtime), *project["optional-dependencies"]["test"]], [])
    built = sorted(wheel.pin for wheel in wheels if not wheel.runs_anywhere)
    for machine, options in _machines():
        wheels |= _wheels(built, machine, options)
    tested = {wheel.pin for wheel in wheels}
    for path, pins in ((LOCK, runtime), (LOCK_TEST, tested - runtime)):
        path.write_text(_text(pins, wheels), encoding="utf-8", newline="\n")
        print(f"{path.name}: {len(pins)} releases")


@dataclass(frozen=True)
class Wheel:
    """One file of one release: `pin` is name==version."""

    pin: str
    sha256: str
    runs_anywhere: bool


def _text(pins: set[str], wheels: set[Wheel]) -> str:
    lines = [_HEADER.format(pythons=f"{PYTHONS[0]} to {PYTHONS[-1]}")]
    for pin in sorted(pins, key=str.lower):
        digests = sorted(wheel.sha256 for wheel in wheels if wheel.pin == pin)
        lines.append(" \\\n".join([pin, *(f"    --hash=sha256:{digest}" for digest in digests)]) + "\n")
    return "".join(lines)


def _machines() -> Iterator[tuple[str, list[str]]]:
    """Each kind of machine: its name, and the options that make pip choose for it."""
    for kind, tags in PLATFORMS.items():
        for python in PYTHONS:
            options = ["--no-deps", "--python-version", python, "--implementation", "cp"]
            yield f"{kind}, Python {python}", options + [o for tag in tags for o in ("--platform", tag)]


def _wheels(pins: list[str], machine: str, options: list[str]) -> set[Wheel]:
    """The wheels one kind of machine would take; where one is missing, each release is asked for alone."""
    try:
        return _chosen(pins, options)
    except LookupError:
        found: set[Wheel] = set()
    for pin in pins:
        try:
            found |= _chosen([pin], options)
        except LookupError:
            print(f"{machine}: no wheel of {pin}", flush=True)
    return found


def _chosen(requirements: list[str], options: list[str]) -> set[Wheel]:
    """The wheels that pip would install for the requirements; LookupError, with its words, where it can't."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.json"
        # --isolated: this machine's extra indexes and folders of wheels must not leak into the lock.
        command = [str(VENV_PYTHON), "-m", "pip", "--isolated", "install", "--quiet", "--dry-run"]
        command += ["--ignore-installed", "--only-binary", ":all:", "--use-feature", "fast-deps"]
        command += ["--target", str(Path(folder) / "none"), "--report", str(report), *options, *requirements]
        done = subprocess.run(command, capture_output=True, text=True)
        if done.returncode:
            raise LookupError(done.stderr)
        items = json.loads(report.read_text(encoding="utf-8"))["install"]
    return {
        Wheel(
            pin=f"{item['metadata']['name']}=={item['metadata']['version']}",
            sha256=item["download_info"]["archive_info"]["hashes"]["sha256"],
            runs_anywhere=item["download_info"]["url"].endswith("-none-any.whl"),
        )
        for item in items
    }
