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
from collections.abc import Iterable, Iterator
from pathlib import Path

from places import LOCK, LOCK_TEST, ROOT, VENV_PYTHON

PYTHONS = ("3.11", "3.12", "3.13", "3.14")

# A machine takes the newest wheel its system allows, so an old and a new system of a kind are both asked.
_GLIBC_OLD, _GLIBC_NEW = 34, 41
PLATFORMS: dict[str, list[str]] = {
    **{
        f"Linux {machine}, glibc 2.{newest}": [f"manylinux_2_{minor}_{machine}" for minor in range(newest, 4, -1)]
        + [f"manylinux2014_{machine}"]
        for machine in ("x86_64", "aarch64")
        for newest in (_GLIBC_OLD, _GLIBC_NEW)
    },
    **{
        f"macOS {release} {machine}": [f"macosx_{release}_0_{machine}"]
        for machine in ("x86_64", "arm64")
        for release in (13, 15)
    },
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
    runtime = _resolve([*project["dependencies"], *WINDOWS_ONLY])
    tested = _resolve(runtime + project["optional-dependencies"]["test"])
    extra = [pin for pin in tested if pin not in runtime]
    hashes = _hashes(tested)
    for path, pins in ((LOCK, runtime), (LOCK_TEST, extra)):
        path.write_text(_text(pins, hashes), encoding="utf-8", newline="\n")
        print(f"{path.name}: {len(pins)} releases, {sum(len(hashes[pin]) for pin in pins)} wheels")


def _text(pins: Iterable[str], hashes: dict[str, set[str]]) -> str:
    lines = [_HEADER.format(pythons=f"{PYTHONS[0]} to {PYTHONS[-1]}")]
    for pin in sorted(pins, key=str.lower):
        entries = [pin, *(f"    --hash=sha256:{digest}" for digest in sorted(hashes[pin]))]
        lines.append(" \\\n".join(entries) + "\n")
    return "".join(lines)


def _resolve(requirements: list[str]) -> list[str]:
    """Every release that the requirements need on this machine, as name==version."""
    return sorted(pin for pin, _ in _report(requirements, []))


def _hashes(pins: list[str]) -> dict[str, set[str]]:
    found: dict[str, set[str]] = {pin: set() for pin in pins}
    for kind, tags in PLATFORMS.items():
        for python in PYTHONS:
            options = ["--no-deps", "--python-version", python, "--implementation", "cp"]
            options += [option for tag in tags for option in ("--platform", tag)]
            for pin, digest in _wheels(pins, options, f"{kind}, Python {python}"):
                found[pin].add(digest)
    return found


def _wheels(pins: list[str], options: list[str], machine: str) -> Iterator[tuple[str, str]]:
    """The wheels one kind of machine would take; where one is missing, the others are asked for singly."""
    try:
        yield from _report(pins, options)
        return
    except LookupError:
        pass
    for pin in pins:
        try:
            yield from _report([pin], options)
        except LookupError:
            print(f"{machine}: no wheel of {pin}")


def _report(requirements: list[str], options: list[str]) -> Iterator[tuple[str, str]]:
    """(name==version, SHA-256) of each wheel that pip would install; LookupError where it can't."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.json"
        # --isolated: this machine's extra indexes and folders of wheels must not leak into the lock.
        command = [VENV_PYTHON, "-m", "pip", "--isolated", "install", "--quiet", "--dry-run"]
        command += ["--ignore-installed", "--only-binary", ":all:", "--use-feature", "fast-deps"]
        command += ["--target", str(Path(folder) / "none"), "--report", report, *options, *requirements]
        done = subprocess.run(command, capture_output=True, text=True)
        if done.returncode:
            raise LookupError(done.stderr)
        items = json.loads(report.read_text(encoding="utf-8"))["install"]
    for item in items:
        name, version = item["metadata"]["name"], item["metadata"]["version"]
        yield f"{name}=={version}", item["download_info"]["archive_info"]["hashes"]["sha256"]
