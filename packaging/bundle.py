"""A frozen bundle of this system's kind: the program with its own Python and Qt, for machines that have neither.

Built in an environment of its own from the locks, out of the wheel and not the checkout. On Linux the outcome is a
folder and a .tar.xz of it; on Windows and macOS the same recipe makes a .zip, which nobody has tested so far.
"""

from __future__ import annotations

import json
import os
import platform
import re
import shutil
import subprocess
import sys
import sysconfig
import venv
from pathlib import Path

from places import LOCK, LOCK_BUNDLE, ROOT, CannotSetUp

BUILD, DIST = ROOT / "build" / "bundle", ROOT / "dist"
FROZEN = ROOT / "packaging" / "frozen"
SIGN = ROOT / "app" / "ui" / "theme" / "icons" / "plumbfall.svg"
ENVIRONMENT = BUILD / "environment"
PYTHON = ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
PIP = [str(PYTHON), "-m", "pip", "--disable-pip-version-check"]


def build() -> Path:
    """Path of the archive. Raises CannotSetUp where a step fails; its own words stand above."""
    if sys.platform == "linux" and shutil.which("objdump") is None:
        raise CannotSetUp("A frozen bundle needs objdump, of the package binutils. Install it and start again.")
    if sys.platform != "win32" and not sysconfig.get_config_var("Py_ENABLE_SHARED"):
        raise CannotSetUp("A frozen bundle needs a Python with a shared library; this one has none. Use the system's.")
    BUILD.mkdir(parents=True, exist_ok=True)
    _prepare()
    folder = _freeze()
    _add_desktop(folder)
    _add_licences(folder)
    return _pack(folder)


def _prepare() -> None:
    """The locked packages and our wheel, installed as anybody would have it."""
    if not PYTHON.exists():
        venv.create(ENVIRONMENT, with_pip=True)
    _run(*PIP, "install", "--quiet", "--require-hashes", "--only-binary", ":all:", "--requirement", str(LOCK),
         "--requirement", str(LOCK_BUNDLE))
    wheels = BUILD / "wheel"
    shutil.rmtree(wheels, ignore_errors=True)
    _run(*PIP, "wheel", "--quiet", "--no-deps", "--wheel-dir", str(wheels), str(ROOT))
    wheel, = wheels.glob("plumbfall-*.whl")
    _run(*PIP, "install", "--quiet", "--no-deps", "--force-reinstall", str(wheel))


def _freeze() -> Path:
    _draw_icons()
    out = BUILD / "out"
    shutil.rmtree(out, ignore_errors=True)
    _run(str(PYTHON), "-m", "PyInstaller", "--noconfirm", "--log-level", "WARN", "--distpath", str(out), "--workpath",
         str(BUILD / "work"), str(FROZEN / "plumbfall.spec"))
    return out / "plumbfall"


def _draw_icons() -> None:
    """The sign as the icon files of Windows and macOS."""
    draw = ("import sys\nfrom PySide6.QtGui import QGuiApplication, QIcon\n"
            "application = QGuiApplication([])\npixels = QIcon(sys.argv[1]).pixmap(256, 256)\n"
            "print([pixels.save(sys.argv[2] + '/plumbfall.' + kind) for kind in ('png', 'ico', 'icns')])")
    _run(str(PYTHON), "-c", draw, str(SIGN), str(BUILD), environment={"QT_QPA_PLATFORM": "offscreen"})


def _add_desktop(folder: Path) -> None:
    """Menu entry, icon and type of studies, with a script that puts them in their places."""
    if sys.platform != "linux":
        return
    share = folder / "share"
    share.mkdir()
    for name in ("plumbfall.desktop", "plumbfall.xml"):
        shutil.copy(FROZEN / name, share)
    shutil.copy(SIGN, share)
    shutil.copy(FROZEN / "install.sh", folder)


def _add_licences(folder: Path) -> None:
    """Ours, those of the packages, of Python, of the starter, and of the system's libraries that came along."""
    licences = folder / "licences"
    shutil.copytree(ROOT / "app" / "licences", licences)
    shutil.copy(ROOT / "LICENSE", folder / "LICENSE")
    packages = Path(_answer("import sysconfig; print(sysconfig.get_path('purelib'))"))
    for text in packages.glob("pyinstaller-*.dist-info/**/COPYING*"):
        shutil.copy(text, licences / "texts" / "pyinstaller.txt")
    library = Path(_answer("import os; print(os.path.dirname(os.__file__))"))
    python = next((path for path in (library / "LICENSE.txt", library.parent.parent / "LICENSE.txt",
                                     Path("/usr/share/doc") / library.name / "copyright") if path.exists()), None)
    if python is None:
        raise CannotSetUp("The licence text of Python was not found beside its library.")
    shutil.copy(python, licences / "texts" / "Python.txt")
    _add_system_licences(folder, licences / "system")


def _add_system_licences(folder: Path, to: Path) -> None:
    """Debian keeps a copyright file for each package; which package a library is of, dpkg knows."""
    if shutil.which("dpkg") is None:
        return
    to.mkdir()
    for library in sorted((folder / "_internal").glob("lib*.so*")):
        owner = subprocess.run(["dpkg", "-S", f"*/{library.name}"], capture_output=True, text=True).stdout
        for package in sorted(set(re.findall(r"^([^:\s]+)(?::\w+)?: ", owner, re.MULTILINE))):
            text = Path("/usr/share/doc") / package / "copyright"
            if text.exists():
                shutil.copy(text, to / f"{package}.txt")


def _pack(folder: Path) -> Path:
    version = _answer("from importlib.metadata import version; print(version('plumbfall'))")
    system = {"win32": "windows", "darwin": "macos"}.get(sys.platform, sys.platform)
    name = f"plumbfall-{version}-{system}-{platform.machine().lower()}"
    DIST.mkdir(exist_ok=True)
    if sys.platform == "darwin":
        folder = folder.with_name("Plumbfall.app")
    kind = "xztar" if sys.platform == "linux" else "zip"
    archive = Path(shutil.make_archive(str(DIST / name), kind, folder.parent, folder.name))
    unpacked = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file() and not path.is_symlink())
    print(json.dumps({"archive": archive.name, "megabytes": round(archive.stat().st_size / 1e6, 1),
                      "unpacked_megabytes": round(unpacked / 1e6, 1)}), flush=True)
    if sys.platform != "linux":
        print("This bundle was made by a recipe that nobody has tested on this system.", file=sys.stderr)
    return archive


def _answer(code: str) -> str:
    return subprocess.run([PYTHON, "-c", code], capture_output=True, text=True, check=True).stdout.strip()


def _run(*command: str, environment: dict[str, str] | None = None) -> None:
    with_icons = {**os.environ, "PLUMBFALL_ICONS": str(BUILD), **(environment or {})}
    if subprocess.run(command, cwd=BUILD, env=with_icons).returncode:
        raise CannotSetUp(f"{Path(command[0]).name} {' '.join(command[1:4])} failed; its reasons stand above.")
