"""Compilers and emulated controllers for the tests of the firmware.

Tests that need one skip on a machine without it and say which package has it; under PLUMBFALL_CI=1 they fail instead.
"""

import hashlib
import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest

from detect.firmware.export import DETECTOR_C, RULE_C, source

PACKAGES = {"cc": "gcc", "gcc": "gcc", "clang": "clang", "cppcheck": "cppcheck",
            "arm-none-eabi-gcc": "gcc-arm-none-eabi", "arm-none-eabi-size": "binutils-arm-none-eabi",
            "qemu-system-arm": "qemu-system-arm", "avr-gcc": "gcc-avr", "llvm-size": "llvm", "cmake": "cmake",
            "make": "make"}

STRICT = ("-std=c99", "-O2", "-Wall", "-Wextra", "-Wpedantic", "-Wconversion", "-Wsign-conversion", "-Wshadow",
          "-Wcast-qual", "-Werror")
SANITIZED = ("-std=c99", "-O1", "-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")

TARGET = Path(__file__).with_name("target")
# Processor, QEMU's machine, flash, RAM, and words of RAM that the vectors' ring may take.
BOARDS = {"cortex-m3": ("mps2-an385", 4 << 20, 4 << 20, 25200), "cortex-m0": ("microbit", 256 << 10, 16 << 10, 4096)}
TICKS = {"cortex-m3": 25600, "cortex-m0": 16384}
"""Of SysTick in 1 000 emulated instructions: 25 and 16 MHz."""
CORES = {"cortex-m3": "32-bit core", "cortex-m0": "smaller 32-bit core"}
"""What they are called where a person reads: the keys are the compiler's own options."""
TARGET_FLAGS = ("-O2", "-ffreestanding", "-mthumb", "-std=c99", "-Wall", "-Wextra", "-Werror")


def needs(*tools: str) -> pytest.MarkDecorator:
    """A mark for tests that run these programs."""
    missing = [tool for tool in tools if shutil.which(tool) is None]
    reason = "; ".join(f"{tool} is not installed (Debian package {PACKAGES[tool]})" for tool in missing)
    if missing and os.environ.get("PLUMBFALL_CI") == "1":
        return pytest.mark.usefixtures("no_skipping_here")
    return pytest.mark.skipif(bool(missing), reason=reason)


def hold_plain(name: str) -> None:
    """An AssertionError where a C file has floats, a heap, recursion, or a function longer than a page."""
    code = re.sub(r"/\*.*?\*/", "", source(name).decode(), flags=re.S)
    assert re.findall(r"\b(float|double|malloc|calloc|realloc|free|goto)\b", code) == []
    bodies = dict(re.findall(r"^(?:static )?[\w ]+?[ *](\w+)\([^;{]*\)\n\{(.*?)^\}", code, flags=re.S | re.M))
    assert len(bodies) >= 4
    calls = {own: {other for other in bodies if re.search(rf"(?<![>.\w]){other}\(", body)}
             for own, body in bodies.items()}
    finished = set()
    while ready := {own for own in calls if own not in finished and calls[own] <= finished}:
        finished |= ready
    assert finished == set(calls), "what is left calls itself in the end"
    assert max(body.count("\n") for body in bodies.values()) <= 36


def call(folder: Path, *command: str | Path) -> str:
    """What a command prints, its errors included; an AssertionError with it where it fails."""
    done = subprocess.run(command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                          timeout=300, check=False)
    assert done.returncode == 0, f"{' '.join(map(str, command))}\n{done.stdout}"
    return done.stdout


_OBJECTS = tempfile.TemporaryDirectory(prefix="plumbfall-objects-")


def built(folder: Path, program: str, compiler: str, flags: tuple[str | Path, ...],
          c_files: tuple[str | Path, ...]) -> Path:
    """A program of C files, linked in a folder. A file that compiler and flags have seen before, with all it includes,
    is not compiled again in this run of the tests."""
    objects = []
    for c_file in c_files:
        alike = "\0".join(map(str, (compiler, *flags, call(folder, compiler, *flags, "-E", c_file))))
        objects.append(Path(_OBJECTS.name, f"{hashlib.sha256(alike.encode()).hexdigest()}.o"))
        if not objects[-1].exists():
            call(folder, compiler, *flags, "-c", "-o", objects[-1], c_file)
    call(folder, compiler, *flags, "-o", program, *objects)
    return folder / program


CLANG_FOR = {"cortex-m3": ("clang", "--target=thumbv7m-none-eabi", "-mcpu=cortex-m3", "-meabi", "gnu"),
             "cortex-m0": ("clang", "--target=thumbv6m-none-eabi", "-mcpu=cortex-m0", "-meabi", "gnu")}


def emulated(folder: Path, program: str | None, processor: str, part: int, *, counting: bool = False,
             c_files: tuple[str, ...] = RULE_C, flags: tuple[str | Path, ...] = (),
             compiler: tuple[str, ...] | None = None) -> dict[str, int]:
    """Build a program of target/ with an exported folder for one board, run it, and read what it says. None: `c_files`
    have their own."""
    own = () if program is None else (TARGET / f"{program}.c",)
    _, flash, ram, words = BOARDS[processor]
    gcc = ("arm-none-eabi-gcc", f"-mcpu={processor}")
    defines = (f"-DPLF_VECTORS_RING_WORDS={words}U", f"-DTICKS_IN_1000={TICKS[processor]}U",
               *(() if program is None else (f"-DPLF_VECTORS_PART={part}",)))
    objects = []
    for c_file in (TARGET / "startup.c", *own, *c_files):
        objects.append(folder / f"{Path(c_file).stem}-{processor}.o")
        call(folder, *(compiler or gcc), *TARGET_FLAGS, *defines, "-I", folder, "-I", TARGET, "-isystem",
             TARGET / "libc", *flags, "-c", "-o", objects[-1], c_file)
    elf = folder / f"{program}-{processor}-{part}.elf"
    call(folder, *gcc, "-mthumb", "-nostdlib", "-T", TARGET / "target.ld",
         f"-Wl,--defsym=FLASH={flash},--defsym=RAM={ram}", "-o", elf, *objects, "-lgcc")
    return started(elf, processor, counting=counting)


def started(elf: Path, processor: str, *, counting: bool = False) -> dict[str, int]:
    """Run a program on an emulated board, and read what it says."""
    icount = ("-icount", "shift=10") if counting else ()
    machine, folder = BOARDS[processor][0], elf.parent
    said = call(folder, "qemu-system-arm", "-M", machine, "-nographic", "-monitor", "none", "-serial", "none", *icount,
                "-semihosting", "-kernel", elf)
    return {name: int(number) for name, number in (line.split() for line in said.splitlines())}


def code_bytes(folder: Path, processor: str, optimise: str = "-O2", c_file: str = DETECTOR_C) -> int:
    """Code and constants of the detector, or of a file around it, on a processor."""
    call(folder, "arm-none-eabi-gcc", f"-mcpu={processor}", *TARGET_FLAGS, optimise, "-c", "-o", "one.o", c_file)
    text, data, bss = map(int, call(folder, "arm-none-eabi-size", "one.o").splitlines()[1].split()[:3])
    assert (data, bss) == (0, 0), f"{c_file} keeps something of its own"
    return text
