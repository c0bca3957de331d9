"""A start is quick because it loads nothing that only some of its work needs."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.parametrize("library", ["pandas", "scipy", "pyqtgraph", "jinja2", "asyncio", "data.demo.plan"])
def test_the_window_loads_without_waiting_for_a_slow_library(library):
    code = f"import sys, app.ui.program; sys.exit({library!r} in sys.modules)"
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen"}
    assert subprocess.run([sys.executable, "-c", code], env=environment).returncode == 0


@pytest.mark.skipif(sys.platform != "linux", reason="finds libraries as Linux does")
def test_a_library_that_the_window_lacks_is_named_with_what_to_install_and_commands_run(tmp_path: Path) -> None:
    (tmp_path / "libEGL.so.1").touch()  # found before the system's, and none
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen", "LD_LIBRARY_PATH": str(tmp_path)}
    window, command = (subprocess.run([sys.executable, "-m", "app", *words], env=environment, capture_output=True,
                                      text=True, timeout=60) for words in ((), ("help", "rule")))
    assert window.returncode == 2
    assert re.fullmatch(r"The window needs a library that this system lacks: .*libEGL\.so\.1.*\. On Debian and Ubuntu, "
                        r"install libgl1 and libegl1; the commands work without: plumbfall --help\.\n", window.stderr)
    assert command.returncode == 0
    assert command.stdout.startswith("How the rule works")
