"""What the tests of the firmware share: an exported folder, and the C detector running."""

from pathlib import Path

import pytest

from detect.firmware.export import lay, write_export
from detect.firmware.header.writer import Provenance
from detect.firmware.twins.detector import Twin
from detect.firmware.twins.device import DeviceTwin
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.toolchain import SANITIZED


@pytest.fixture
def no_skipping_here():
    pytest.fail("a tool this test needs is missing, and PLUMBFALL_CI=1 allows no skipping")


@pytest.fixture(scope="session")
def exported_files() -> dict[str, bytes]:
    return write_export(DEFAULTS, FrontEnd(), Provenance())


@pytest.fixture
def exported(tmp_path: Path, exported_files: dict[str, bytes]) -> Path:
    """An exported folder with a space in its name."""
    folder = tmp_path / "for the device"
    folder.mkdir()
    lay(folder, exported_files)
    return folder


@pytest.fixture(scope="session")
def twin():
    with Twin() as running:
        yield running


@pytest.fixture(scope="session")
def device():
    """Log, alarm and link in C, under sanitizers."""
    with DeviceTwin(flags=SANITIZED, compiler="clang") as running:
        yield running
