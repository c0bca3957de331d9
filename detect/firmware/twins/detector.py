"""The C detector as a process on this machine: recordings in, attempts out.

A process and not a loaded library: an exported folder's C may have been changed by hand, and must not be able to take
this program down with it.
"""

from __future__ import annotations

import shutil
import struct
import subprocess
import tempfile
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np

from detect.firmware.export import RULE_C, RULE_H, TWIN_C, lay, source
from detect.firmware.header.fields import FIELDS
from detect.firmware.header.writer import NAME, Provenance, write_header
from detect.rule.attempt import CHECKS, Attempt
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule
from detect.rule.settings import DEFAULTS

COMPILERS = ("cc", "gcc", "clang")
PLAIN = ("-std=c99", "-O2")
ENDED = ("alarm", "no_impact", "rejected", "cut_off")  # enum plf_ended
STAGES = ("watch", "primed", "settle", "observe", "hold")  # enum plf_stage
_EVENT = struct.Struct("=23q")
# enum plf_has
_FREE_FALL, _HIGHEST, _IMPACT, _ACTIVE, _OBSERVED, _TILT, _RECLINED, _STILL = (1 << bit for bit in range(8))


class NoCompiler(Exception):
    """This machine has no C compiler that we know how to call."""

    def __init__(self, tried: Sequence[str] = COMPILERS) -> None:
        super().__init__(f"No C compiler found; looked for {', '.join(tried)}. "
                         "Install one: on Debian and Ubuntu the package gcc has it (apt install gcc).")


class BuildFailed(Exception):
    """The compiler refused; the text is what it said."""


class TwinFailed(Exception):
    """The C program stopped in the middle; the text is the last it said."""


def find_compiler(compiler: str | None = None) -> str:
    """The path of the compiler asked for, or of the first that is there; NoCompiler without one."""
    tried = (compiler,) if compiler else COMPILERS
    for name in tried:
        if (path := shutil.which(name)) is not None:
            return path
    raise NoCompiler(tried)


def build(folder: Path, program: str, c_files: Sequence[str], flags: Sequence[str] = PLAIN,
          compiler: str | None = None) -> Path:
    """Compile files of a folder to a program in it; BuildFailed with the compiler's words."""
    path = folder / program
    command = [find_compiler(compiler), *flags, "-I", ".", "-o", str(path), *c_files]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode:
        raise BuildFailed(f"{' '.join(command)}\n{done.stderr.strip()}")
    return path


class Running:
    """A program of the given files (name to content), built and running; it is asked over a pipe.

    A context manager: leaving it ends the process and removes what was built.
    """

    def __init__(self, files: Mapping[str, bytes], c_files: Sequence[str], flags: Sequence[str] = PLAIN,
                 compiler: str | None = None) -> None:
        self.folder = tempfile.TemporaryDirectory(prefix="plumbfall-", ignore_cleanup_errors=True)
        try:
            folder = Path(self.folder.name)
            lay(folder, files)
            program = build(folder, "twin", c_files, flags, compiler)
            self.errors = folder / "errors"
            with self.errors.open("wb") as errors:
                self.process = subprocess.Popen([program], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                                                stderr=errors)
        except BaseException:
            self.folder.cleanup()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        with suppress(BrokenPipeError):
            self.process.stdin.close()
        self.process.stdout.close()
        self.process.wait()
        self.folder.cleanup()

    def _write(self, data: bytes) -> None:
        assert self.process.stdin is not None
        try:
            self.process.stdin.write(data)
            self.process.stdin.flush()
        except BrokenPipeError:
            raise self._failure() from None

    def _read(self, size: int) -> bytes:
        assert self.process.stdout is not None
        read = self.process.stdout.read(size)
        if len(read) < size:
            raise self._failure()
        return read

    def _failure(self) -> TwinFailed:
        self.process.wait()
        said = self.errors.read_text(errors="replace").strip()
        return TwinFailed(f"The C program stopped with code {self.process.returncode}. {said}")


class Twin(Running):
    """The detector of the given files (the package's own where one is missing), built and running."""

    def __init__(self, files: Mapping[str, bytes] | None = None, flags: Sequence[str] = PLAIN,
                 compiler: str | None = None) -> None:
        own = {**{name: source(name) for name in (*RULE_H, *RULE_C)},
               NAME: write_header(DEFAULTS, FrontEnd(), Provenance()).encode()}
        super().__init__({**own, **(files or {}), TWIN_C: source(TWIN_C)}, (TWIN_C, *RULE_C), flags, compiler)

    def attempts(self, stretches: Iterable[np.ndarray], rule: Rule | None = None) -> list[Attempt]:
        """All attempts of one recording, its stretches (n, 3) int16; without a rule, by plumbfall_params.h."""
        return self._job(stretches, rule, stages_wanted=0)[0]

    def stages(self, stretches: Iterable[np.ndarray], rule: Rule | None = None) -> list[str]:
        """The stage after each sample, and after the gap behind each stretch."""
        return [STAGES[stage] for stage in self._job(stretches, rule, stages_wanted=1)[1]]

    def _job(self, stretches: Iterable[np.ndarray], rule: Rule | None,
             stages_wanted: int) -> tuple[list[Attempt], bytes]:
        pieces = [np.ascontiguousarray(s, dtype=np.int16) for s in stretches]
        head = struct.pack("=3i", rule is not None, stages_wanted, len(pieces))
        if rule is not None:
            head += struct.pack(f"={len(FIELDS)}i", *(field.integer(rule) for field in FIELDS))
        parts = [head]
        for piece in pieces:
            parts += [struct.pack("=I", len(piece)), piece.tobytes()]
        self._write(b"".join(parts))
        count, = struct.unpack("=I", self._read(4))
        rows = self._read(count * _EVENT.size)
        found = [attempt_of(row) for row in _EVENT.iter_unpack(rows)]
        count, = struct.unpack("=I", self._read(4))
        return found, self._read(count)


def attempt_of(row: Sequence[int]) -> Attempt:
    """An event of the C detector, its 23 numbers in twin.c's order, as an attempt."""
    (ended, early, failed, skipped, has, q, n, decided, first_low_ago, last_low_ago, first_impact_ago, impact_ago,
     lowest, highest, restarts, peak, dot, dot_u, a_sq, b_sq, a_u_sq, u_sq, spread) = row

    def only(bit: int, value: int) -> int | None:
        return value if has & bit else None

    def checks(mask: int) -> tuple[str, ...]:
        return tuple(check for bit, check in enumerate(CHECKS) if mask & 1 << bit)

    return Attempt(
        ENDED[ended], decided, bool(early), checks(failed), checks(skipped),
        first_low=only(_FREE_FALL, decided - first_low_ago), last_low=only(_FREE_FALL, decided - last_low_ago),
        lowest=only(_FREE_FALL, lowest), highest=only(_HIGHEST, highest),
        first_impact=only(_IMPACT, decided - first_impact_ago), impact=only(_IMPACT, decided - impact_ago),
        restarts=only(_IMPACT, restarts), peak=only(_IMPACT, peak), q=only(_ACTIVE, q), n=only(_OBSERVED, n),
        dot=only(_TILT, dot), a_sq=only(_TILT, a_sq), b_sq=only(_TILT, b_sq),
        dot_u=only(_RECLINED, dot_u), a_u_sq=only(_RECLINED, a_u_sq), u_sq=only(_RECLINED, u_sq),
        spread=only(_STILL, spread))
