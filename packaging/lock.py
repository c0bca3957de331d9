"""Makes the lock files anew: which release of what is installed, and the hash of every wheel of it.

pip does the resolving. It is asked twice for this machine (what running needs, what testing needs) and then
once for each kind of machine the lock is to serve, so that the hashes of all their wheels are in. Only names,
versions and hashes are written: where the wheels come from is the installing machine's own affair.
"""

from __future__ import annotations

import json
import re
import subprocess
import tempfile
import tomllib
from dataclasses import dataclass
from pathlib import Path

from places import LOCK, LOCK_BUNDLE, LOCK_TEST, ROOT, VENV_PYTHON

PYTHONS = ("3.11", "3.12", "3.13", "3.14")


@dataclass(frozen=True)
class Machine:
    """A kind of machine: what pip calls it when asked for its wheels, and what Python says there of itself."""

    tags: tuple[str, ...]
    sys_platform: str
    platform_machine: str


# The oldest systems that Qt's wheels still serve (by glibc on Linux): pip keeps to the wheels whose hashes it
# is given, so newer systems are served with the same.
MACHINES = (
    Machine((*(f"manylinux_2_{minor}_x86_64" for minor in range(34, 4, -1)), "manylinux2014_x86_64"),
            "linux", "x86_64"),
    Machine((*(f"manylinux_2_{minor}_aarch64" for minor in range(39, 4, -1)), "manylinux2014_aarch64"),
            "linux", "aarch64"),
    Machine(("macosx_13_0_x86_64",), "darwin", "x86_64"),
    Machine(("macosx_13_0_arm64",), "darwin", "arm64"),
    Machine(("win_amd64",), "win32", "AMD64"),
    Machine(("win_arm64",), "win32", "ARM64"),
)

# What a dependency asks for on Windows alone, which this machine's own resolving would not show: pandas the one,
# pytest the other.
WINDOWS_RUNS, WINDOWS_TESTS = ("tzdata",), ("colorama",)
ELSEWHERE_BUNDLED = ("pefile", "pywin32-ctypes", "macholib")
"""What the freezer asks for on Windows and on macOS."""

_HEADER = """\
# Made by `python3 packaging/dev.py lock` from pyproject.toml; not edited by hand.
# One hash a wheel: CPython {pythons} on Linux, macOS and Windows.
"""


@dataclass(frozen=True)
class Wheel:
    """One file of one release: `pin` is name==version, `needs` the names of packages that it can't do without."""

    pin: str
    sha256: str
    runs_anywhere: bool
    needs: frozenset[str] = frozenset()


def write_locks() -> None:
    """Resolve pyproject's pins and write the lock files; prints what some kind of machine has no wheel of."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    runtime = {wheel.pin for wheel in _chosen([*project["dependencies"], *WINDOWS_RUNS], [])}
    _write_beside(runtime, [*extras["test"], *WINDOWS_TESTS], {LOCK: True, LOCK_TEST: False})
    _write_beside(runtime, [*extras["bundle"], *ELSEWHERE_BUNDLED], {LOCK_BUNDLE: False})


def _write_beside(runtime: set[str], wanted: list[str], paths: dict[Path, bool]) -> None:
    """The lock of what is wanted beside the runtime; `paths`: whether a file is the runtime's own."""
    wheels = _chosen([*sorted(runtime), *wanted], [])
    tested = {wheel.pin for wheel in wheels}
    built = {wheel.pin for wheel in wheels if not wheel.runs_anywhere}
    lacking: dict[str, list[Machine]] = {pin: [] for pin in tested}
    for machine in MACHINES:
        found = _wheels(built, machine)
        wheels |= found
        for pin in sorted(built - {wheel.pin for wheel in found}):
            print(f"no wheel of {pin} for {machine.sys_platform} {machine.platform_machine}", flush=True)
            lacking[pin].append(machine)
    _hand_down(lacking, wheels)
    for path, pins in ((path, runtime if own else tested - runtime) for path, own in paths.items()):
        entries = [_entry(pin, lacking[pin], wheels) for pin in sorted(pins, key=str.lower)]
        header = _HEADER.format(pythons=f"{PYTHONS[0]} to {PYTHONS[-1]}")
        path.write_text(header + "".join(entries), encoding="utf-8", newline="\n")
        print(f"{path.name}: {len(pins)} releases")


def _hand_down(lacking: dict[str, list[Machine]], wheels: set[Wheel]) -> None:
    """A machine that has no wheel of a package goes without what needs that package, too."""
    without = {(_plain(pin.partition("==")[0]), machine) for pin, machines in lacking.items() for machine in machines}
    found = True
    while found:
        found = False
        for wheel in sorted(wheels, key=lambda one: one.pin):
            for machine in MACHINES:
                name = _plain(wheel.pin.partition("==")[0])
                if (name, machine) not in without and any((need, machine) in without for need in wheel.needs):
                    without.add((name, machine))
                    lacking[wheel.pin].append(machine)
                    found = True


def _needs(requirements: list[str]) -> frozenset[str]:
    """Names out of a wheel's own list; what only an extra of it asks for is left out."""
    return frozenset(_plain(re.match(r"[\w.-]+", one)[0]) for one in requirements  # type: ignore[index]
                     if "extra ==" not in one)


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def _entry(pin: str, lacking: list[Machine], wheels: set[Wheel]) -> str:
    """A pin with its hashes; machines that have no wheel of it go without."""
    elsewhere = " and ".join(f'(sys_platform != "{m.sys_platform}" or platform_machine != "{m.platform_machine}")'
                             for m in lacking)
    digests = sorted(wheel.sha256 for wheel in wheels if wheel.pin == pin)
    first = f"{pin} ; {elsewhere}" if elsewhere else pin
    return " \\\n".join([first, *(f"    --hash=sha256:{digest}" for digest in digests)]) + "\n"


def _wheels(pins: set[str], machine: Machine) -> set[Wheel]:
    """The wheels a kind of machine would take, over all Pythons; releases that it has none of are left out."""
    found: set[Wheel] = set()
    lacking: set[str] = set()
    for python in PYTHONS:
        options = ["--no-deps", "--python-version", python, "--implementation", "cp"]
        options += [word for tag in machine.tags for word in ("--platform", tag)]
        try:
            found |= _chosen(sorted(pins - lacking), options)
        except LookupError:
            singly = {pin: _or_nothing(pin, options) for pin in sorted(pins - lacking)}
            lacking |= {pin for pin, wheels in singly.items() if not wheels}
            found = found.union(*singly.values())
    return found


def _or_nothing(pin: str, options: list[str]) -> set[Wheel]:
    try:
        return _chosen([pin], options)
    except LookupError:
        return set()


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
            needs=_needs(item["metadata"].get("requires_dist", [])),
        )
        for item in items
    }
