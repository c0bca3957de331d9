"""The C detector on emulated 32-bit cores: code, memory and instructions a sample, under settings of different weight.

SysTick under QEMU's -icount shift=10 counts instructions; cycles are not modelled. The signal is the export's own part
of the vectors, falls and what comes between them, and for the worst sample all vectors there are.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from detect.firmware.export import AROUND_NAMES, STATION_NAMES, lay, write_export
from detect.firmware.header.fields import ring_words
from detect.firmware.header.writer import Provenance
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import DEFAULTS, Settings
from tests.detect.firmware.toolchain import BOARDS, CORES, PACKAGES, code_bytes, emulated

BAR_CODE, BAR_STATE, BAR_AVERAGE, BAR_WORST = 4096, 256, 200.0, 4000
STATE_BYTES = 248
"""A test holds it to sizeof(plf_state) on a 32-bit controller."""
TOOLS = ("arm-none-eabi-gcc", "arm-none-eabi-size", "qemu-system-arm")

EVERY_CHECK = DEFAULTS.with_value("active_on", True).with_value("reclined_on", True)
LOADS: dict[str, tuple[Settings, float, float | None]] = {
    "defaults, 50 Hz": (DEFAULTS, 50, BAR_AVERAGE),
    "every check, 50 Hz": (EVERY_CHECK, 50, BAR_AVERAGE),
    "every check, 400 Hz": (EVERY_CHECK, 400, BAR_AVERAGE),
    "every check, 400 Hz, mean of 8": (EVERY_CHECK.with_value("prefilter_samples", 8), 400, None),
}
"""Settings, rate, and the bar on the average: the pre-filter comes on top of what the bar was set for."""


def exported(folder: Path, settings: Settings, rate_hz: float) -> Path:
    folder.mkdir()
    lay(folder, write_export(settings, FrontEnd(rate_hz=rate_hz), Provenance()))
    return folder


def main() -> bool:
    """Print the figures; whether they are within the bars."""
    missing = [tool for tool in TOOLS if shutil.which(tool) is None]
    if missing:
        print("; ".join(f"{tool} is not installed (Debian package {PACKAGES[tool]})" for tool in missing))
        return True
    good = True

    def row(what: str, value: float, bar: float | None, unit: str) -> None:
        nonlocal good
        kept = bar is None or value <= bar
        good = good and kept
        said = "" if bar is None else f"bar {bar:g}: {'kept' if kept else 'BROKEN'}"
        print(f"{what:<45} {value:>7.1f} {unit:<13}{said}".rstrip())

    with tempfile.TemporaryDirectory() as name:
        folders = {load: exported(Path(name) / str(i), *LOADS[load][:2]) for i, load in enumerate(LOADS)}
        first = folders["defaults, 50 Hz"]
        for processor in BOARDS:
            for optimise in ("-Os", "-O2"):
                row(f"code, {CORES[processor]} {optimise}", code_bytes(first, processor, optimise), BAR_CODE, "bytes")
            for name in ("settings", "sensor", "crc", *AROUND_NAMES, *STATION_NAMES):
                size = code_bytes(first, processor, "-Os", f"plumbfall_{name}.c")
                row(f"code, {name}, {CORES[processor]} -Os", size, None, "bytes")
        row("state without the ring", STATE_BYTES, BAR_STATE, "bytes")
        for load, (settings, rate_hz, bar) in LOADS.items():
            rule = rule_of(settings, FrontEnd(rate_hz=rate_hz))
            said = emulated(folders[load], "measure", "cortex-m3", 5, counting=True)
            row(f"ring, {load}", 2 * ring_words(rule), None, "bytes")
            row(f"average, {load}", said["average_tenths"] / 10, bar, "instructions")
        worst = max(emulated(first, "measure", "cortex-m3", part, counting=True)["worst"] for part in range(1, 6))
        row("worst sample of all vectors", worst, BAR_WORST, "instructions")
    return good


if __name__ == "__main__":
    raise SystemExit(0 if main() else 1)
