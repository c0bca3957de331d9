"""What an export takes on each core and with each compiler: flash, RAM, stack, and where it is emulated instructions.

Run as a program it writes the table into BUILD.md: python -m tests.detect.firmware.handover.sizes
"""

from __future__ import annotations

import re
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from detect.device.quantity_table import device_values
from detect.firmware.export import BUILD_MD, EXAMPLE_C, FIRMWARE_C, RULE_C, lay, source, write_export
from detect.firmware.header.writer import Provenance
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from tests.detect.firmware.toolchain import CLANG_FOR, TARGET, call, emulated

BEGIN, END = "<!-- sizes: written by a program, held by a test -->\n", "<!-- sizes end -->\n"
DEVICE_C = tuple(name for name in EXAMPLE_C if "fake" not in name)


@dataclass(frozen=True)
class Toolchain:
    """A core as people call it, the compiler's name and call, and the emulated board's processor where there is one."""

    core: str
    name: str
    command: tuple[str, ...]
    processor: str = ""


TOOLCHAINS = (
    Toolchain("32-bit", "gcc", ("arm-none-eabi-gcc", "-mcpu=cortex-m3", "-mthumb"), "cortex-m3"),
    Toolchain("32-bit", "clang", (*CLANG_FOR["cortex-m3"], "-mthumb"), "cortex-m3"),
    Toolchain("smaller 32-bit", "gcc", ("arm-none-eabi-gcc", "-mcpu=cortex-m0", "-mthumb"), "cortex-m0"),
    Toolchain("smaller 32-bit", "clang", (*CLANG_FOR["cortex-m0"], "-mthumb"), "cortex-m0"),
    Toolchain("16-bit", "clang", ("clang", "--target=msp430")),
    Toolchain("8-bit", "gcc", ("avr-gcc", "-mmcu=avr6")),
    Toolchain("8-bit", "clang", ("clang", "--target=avr", "-mmcu=atmega2560")),
)
FLAGS = ("-std=c99", "-Os", "-ffreestanding", "-Wall", "-Wextra", "-Werror", "-fstack-usage")
COLUMNS = ("core", "compiler", "detector: flash", "RAM", "stack", "all: flash", "RAM", "stack", "instructions", "most")


@dataclass(frozen=True)
class Sizes:
    """Bytes with -Os, of the detector and of all with the example's own; instructions a sample with -O2, None where no
    board is emulated: the mean of the export's own vectors, and the most of all vectors."""

    detector_flash: int
    detector_ram: int
    detector_stack: int
    flash: int
    ram: int
    stack: int
    mean: float | None = None
    most: int | None = None

    @property
    def numbers(self) -> tuple[int | None, ...]:
        return (self.detector_flash, self.detector_ram, self.detector_stack, self.flash, self.ram, self.stack,
                None if self.mean is None else round(self.mean), self.most)


def measured(folder: Path, tools: Toolchain, instructions: bool = True) -> Sizes:
    """Of an exported folder; its objects stay in it."""
    sections, frames = {}, {}
    for name in (*FIRMWARE_C, *DEVICE_C):
        stem = f"{Path(name).stem}-size"
        call(folder, *tools.command, *FLAGS, "-I", ".", "-I", "example", "-isystem", TARGET / "libc", "-c", "-o",
             f"{stem}.o", name)
        sections[name] = tuple(map(int, call(folder, "llvm-size", f"{stem}.o").splitlines()[1].split()[:3]))
        for line in (folder / f"{stem}.su").read_text().splitlines():
            where, size, _ = line.split("\t")
            frames[name, where.split(":")[-1].split(".")[0]] = int(size)
    text = {name: of[0] for name, of in sections.items()}
    calls = called(folder)
    mean = most = None
    if tools.processor and instructions:
        mean, most = _instructions(folder, tools)
    return Sizes(sum(text[name] for name in RULE_C), _ram_of_detector(folder, tools),
                 deepest(("plumbfall_detector.c", "plf_step"), calls, frames),
                 sum(text.values()), sum(data + bss for _, data, bss in sections.values()),
                 deepest(("example/main.c", "main"), calls, frames), mean, most)


def _ram_of_detector(folder: Path, tools: Toolchain) -> int:
    """State, ring and event."""
    (folder / "ram.c").write_text('#include "plumbfall_detector.h"\n#include "plumbfall_params.h"\n'
                                  "plf_state state; plf_word ring[PLF_RING_WORDS]; plf_event event;\n")
    call(folder, *tools.command, *FLAGS, "-fno-common", "-I", ".", "-c", "-o", "ram-size.o", "ram.c")
    return int(call(folder, "llvm-size", "ram-size.o").splitlines()[1].split()[2])


def _instructions(folder: Path, tools: Toolchain) -> tuple[float, int]:
    said = [emulated(folder, "measure", tools.processor, part, counting=True, compiler=tools.command)
            for part in range(1, 6)]
    return said[-1]["average_tenths"] / 10, max(part["worst"] for part in said)


def called(folder: Path) -> dict[tuple[str, str], set[tuple[str, str]]]:
    """Which functions of the firmware each of them calls, by file and name; calls by a pointer are not among them."""
    bodies = {}
    for name in (*FIRMWARE_C, *DEVICE_C):
        code = re.sub(r"/\*.*?\*/", "", (folder / name).read_text(), flags=re.S)
        for own, body in re.findall(r"^[a-z][\w *]*?[ *](\w+)\([^;{]*\)\s*\{(.*?)^\}", code, flags=re.S | re.M):
            bodies[name, own] = body
    by_name: dict[str, list[tuple[str, str]]] = {}
    for key in bodies:
        by_name.setdefault(key[1], []).append(key)
    return {key: {one for other in set(re.findall(r"(?<![>.\w])(\w+)\(", body)) & set(by_name)
                  for one in ([(key[0], other)] if (key[0], other) in bodies else by_name[other])}
            for key, body in bodies.items()}


def deepest(first: tuple[str, str], calls: dict, frames: dict[tuple[str, str], int]) -> int:
    """Bytes of the deepest chain of calls; a function that the compiler has put into its caller has no frame of its
    own."""
    below = max((deepest(one, calls, frames) for one in calls[first]), default=0)
    return frames.get(first, 0) + below


def exported(folder: Path) -> Path:
    lay(folder, write_export(DEFAULTS, FrontEnd(), Provenance(), device_values({})))
    return folder


def row(tools: Toolchain, sizes: Sizes) -> str:
    cells = ("–" if number is None else f"{number}" for number in sizes.numbers)
    return f"| {tools.core} | {tools.name} | {' | '.join(cells)} |"


def table() -> str:
    lines = [f"| {' | '.join(COLUMNS)} |", "|" + "---|" * len(COLUMNS)]
    for tools in TOOLCHAINS:
        with tempfile.TemporaryDirectory() as name:
            lines.append(row(tools, measured(exported(Path(name)), tools)))
    return "\n".join(lines) + "\n"


def rows_of(page: str) -> dict[tuple[str, str], list[int | None]]:
    """The table's figures by core and compiler."""
    between = page[page.index(BEGIN) + len(BEGIN):page.index(END)]
    found = [[cell.strip() for cell in line.strip("|\n").split("|")] for line in between.splitlines()[2:]]
    return {(core, name): [None if cell == "–" else int(cell) for cell in cells] for core, name, *cells in found}


def main() -> int:
    missing = [tools.command[0] for tools in TOOLCHAINS if shutil.which(tools.command[0]) is None]
    if missing:
        print(f"{', '.join(missing)} not found")
        return 1
    path = Path(__file__).parents[4] / "detect" / "firmware" / "c" / BUILD_MD
    page = source(BUILD_MD).decode()
    path.write_text(page[:page.index(BEGIN) + len(BEGIN)] + table() + page[page.index(END):])
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
