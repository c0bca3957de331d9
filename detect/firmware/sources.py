"""The hand-written C files as they lie in the package."""

from __future__ import annotations

from importlib.resources import files

DETECTOR_H = "plumbfall_detector.h"
DETECTOR_C = "plumbfall_detector.c"
SELFTEST_C = "plumbfall_selftest.c"
TWIN_C = "twin.c"


def source(name: str) -> str:
    """The text of one of them."""
    return files("detect.firmware").joinpath("c", name).read_text(encoding="ascii")
