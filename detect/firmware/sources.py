"""The hand-written files that leave with an export, as they lie in the package."""

from __future__ import annotations

from importlib.resources import files

DETECTOR_H = "plumbfall_detector.h"
DETECTOR_C = "plumbfall_detector.c"
SELFTEST_C = "plumbfall_selftest.c"
BUILD_MD = "BUILD.md"
TWIN_C = "twin.c"


def source(name: str) -> bytes:
    """The content of one of them."""
    return files("detect.firmware").joinpath("c", name).read_bytes()
