"""Tests that need a compiler or an emulator skip without it and say so; under PLUMBFALL_CI they fail."""

import os
import shutil

import pytest

PACKAGES = {"cc": "gcc", "gcc": "gcc", "clang": "clang", "cppcheck": "cppcheck",
            "arm-none-eabi-gcc": "gcc-arm-none-eabi", "qemu-system-arm": "qemu-system-arm"}


def needs(*tools):
    """A mark for tests that run these programs."""
    missing = [tool for tool in tools if shutil.which(tool) is None]
    reason = "; ".join(f"{tool} is not installed (Debian package {PACKAGES[tool]})" for tool in missing)
    if missing and os.environ.get("PLUMBFALL_CI") == "1":
        return pytest.mark.usefixtures("no_skipping_here")
    return pytest.mark.skipif(bool(missing), reason=reason)
