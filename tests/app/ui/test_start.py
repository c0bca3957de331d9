"""A start is quick because it loads nothing that only some of its work needs."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest


@pytest.mark.parametrize("library", ["pandas", "scipy", "pyqtgraph", "jinja2", "asyncio", "data.demo.plan"])
def test_the_window_loads_without_waiting_for_a_slow_library(library):
    code = f"import sys, app.ui.program; sys.exit({library!r} in sys.modules)"
    environment = os.environ | {"QT_QPA_PLATFORM": "offscreen"}
    assert subprocess.run([sys.executable, "-c", code], env=environment).returncode == 0
