"""The hand-written files that leave with an export, as they lie in the package."""

from __future__ import annotations

from importlib.resources import files

DETECTOR_H = "plumbfall_detector.h"
DETECTOR_C = "plumbfall_detector.c"
SELFTEST_C = "plumbfall_selftest.c"
BUILD_MD = "BUILD.md"
TWIN_C = "twin.c"

AROUND = ("record", "log", "recorder", "alarm", "link")
"""What stands around the detector: a .h and a .c each."""
AROUND_H = tuple(f"plumbfall_{name}.h" for name in AROUND)
AROUND_C = tuple(f"plumbfall_{name}.c" for name in AROUND)
DEVICE_SELFTEST_C = "plumbfall_device_selftest.c"
DEVICE_TWIN_C = "device_twin.c"
LOG_MD = "LOG.md"


def source(name: str) -> bytes:
    """The content of one of them."""
    return files("detect.firmware").joinpath("c", name).read_bytes()
