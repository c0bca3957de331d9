"""What the machine itself must have, outside `.venv`: libraries of a Qt window, a compiler, an X server.

On Debian and its kin apt-get installs what is missing; elsewhere it is named, and installing is left to the
person, who knows their package manager.
"""

from __future__ import annotations

import ctypes
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

from places import CannotSetUp

# What Qt's own wheels expect of the system: soname, Debian package. The xcb ones are loaded by Qt's X11
# plug-in, which only says "could not load" without them; the others are linked by QtGui itself.
WINDOW_LIBRARIES = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libX11.so.6": "libx11-6",
    "libX11-xcb.so.1": "libx11-xcb1",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libfreetype.so.6": "libfreetype6",
    "libgthread-2.0.so.0": "libglib2.0-0",
    "libxcb.so.1": "libxcb1",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-glx.so.0": "libxcb-glx0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render.so.0": "libxcb-render0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-util.so.1": "libxcb-util1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libzstd.so.1": "libzstd1",
}
_FONT_FOLDERS = ("/usr/share/fonts", "/usr/local/share/fonts", "~/.fonts", "~/.local/share/fonts")
_FONT_PACKAGE = "fonts-dejavu-core"


def missing_for_python() -> list[str]:
    """Debian packages that making a virtual environment wants; empty where Python can make one."""
    if importlib.util.find_spec("venv") and importlib.util.find_spec("ensurepip"):
        return []
    return [f"python3.{sys.version_info.minor}-venv"]


def missing_for_window() -> list[str]:
    """Debian packages that hold what a Qt window lacks here; always empty off Linux, where Qt brings all."""
    if not sys.platform.startswith("linux"):
        return []
    packages = [package for soname, package in WINDOW_LIBRARIES.items() if not _loads(soname)]
    return packages if _has_fonts() else [*packages, _FONT_PACKAGE]


def missing_for_tests() -> list[str]:
    """Debian packages that the tests want besides: a display of their own and a C compiler."""
    if not sys.platform.startswith("linux"):
        return []
    packages = [] if shutil.which("Xvfb") else ["xvfb"]
    return packages if shutil.which("cc") else [*packages, "gcc", "libc6-dev"]


def provide(packages: list[str], optional: list[str]) -> None:
    """Install Debian packages as root and say so; else raise CannotSetUp with the line that would.

    `optional` is what the tests can do without: they then draw into memory and skip what compiles.
    """
    wanted = packages + optional
    if not wanted:
        return
    if shutil.which("apt-get") is None:
        if packages:
            raise CannotSetUp(_elsewhere(packages))
        print(f"Going on without {' and '.join(optional)} (Debian's names).", flush=True)
        return
    if os.geteuid() != 0:
        raise CannotSetUp("This machine lacks some system packages. Install them, then start again:\n"
                          f"    sudo apt-get update && sudo apt-get install {' '.join(wanted)}")
    print(f"Installing with apt-get: {' '.join(wanted)}", flush=True)
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    # Package lists may be missing or old; where they can't be fetched the install still may work.
    subprocess.run(["apt-get", "update"], env=environment, capture_output=True)
    command = ["apt-get", "install", "--yes", "--no-install-recommends", *wanted]
    done = subprocess.run(command, env=environment, capture_output=True, text=True)
    if done.returncode:
        raise CannotSetUp(f"apt-get could not install them:\n{done.stderr.strip()}")


def _elsewhere(packages: list[str]) -> str:
    sonames = [soname for soname, package in WINDOW_LIBRARIES.items() if package in packages]
    lines = ["This machine lacks what the program stands on; install it with the system's package manager."]
    if sonames:
        lines.append(f"Libraries: {', '.join(sonames)}.")
    if _FONT_PACKAGE in packages:
        lines.append("Fonts: any TrueType fonts, for example DejaVu.")
    if any(package.endswith("-venv") for package in packages):
        lines.append("Python's own modules venv and ensurepip.")
    return "\n".join(lines)


def _loads(soname: str) -> bool:
    try:
        ctypes.CDLL(soname)
    except OSError:
        return False
    return True


def _has_fonts() -> bool:
    endings = (".ttf", ".otf", ".ttc", ".pfb")
    # os.walk passes by what isn't there or may not be read.
    return any(name.lower().endswith(endings)
               for folder in _FONT_FOLDERS for _, _, names in os.walk(Path(folder).expanduser()) for name in names)
