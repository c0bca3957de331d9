"""A fuzzer that looks for inputs on which C detector and reference differ: they run side by side, over a pipe."""

import os
import struct
import subprocess
from dataclasses import dataclass
from pathlib import Path

from detect.firmware.export import DETECTOR_C, RULE_C, RULE_H, source
from detect.firmware.header.fields import FIELDS
from detect.firmware.twins.detector import attempt_of
from detect.rule.attempt import Attempt
from detect.rule.integers import Rule
from detect.rule.reference import attempts_of
from tests.detect.firmware.toolchain import call

FUZZED = ("-std=c99", "-g", "-O1", "-fsanitize=fuzzer,address,undefined", "-fno-sanitize-recover=all")
_SETTINGS = struct.Struct("=" + "".join("h" if field.signed else "H" for field in FIELDS))
_ROW = struct.Struct("=23q")


@dataclass
class Fuzzed:
    """What a run came to. `find` is the rule and the samples that the two disagreed on, if they did."""

    inputs: int = 0
    samples: int = 0
    attempts: int = 0
    find: str | None = None
    said: str = ""


def rule_from(settings: bytes) -> Rule:
    """A rule from the bytes of a plf_settings, which has no padding."""
    values: dict[str, object] = {}
    axes: dict[str, list[int]] = {}
    for field, value in zip(FIELDS, _SETTINGS.unpack(settings), strict=True):
        if field.axis is not None:
            axes.setdefault(field.rule, []).append(value)
        else:
            values[field.rule] = bool(value) if field.row.is_flag else value
    return Rule(**values, **{name: tuple(parts) for name, parts in axes.items()})


def stretches_of(rows: list[tuple[int, int, int, int]]) -> list[list[tuple[int, int, int]]]:
    stretches: list[list[tuple[int, int, int]]] = [[]]
    for x, y, z, gap in rows:
        if gap:
            stretches.append([])
        else:
            stretches[-1].append((x, y, z))
    return stretches


def fuzz(folder: Path, seconds: int, detector: str | None = None) -> Fuzzed:
    """Build the target with the detector, ours or a given text, and let it run until it finds or the time is over."""
    for name in (*RULE_H, *RULE_C):
        (folder / name).write_bytes(source(name))
    (folder / DETECTOR_C).write_text(detector or source(DETECTOR_C).decode())
    target = Path(__file__).with_name("programs") / "fuzz.c"
    call(folder, "clang", *FUZZED, "-I", ".", "-o", "fuzz", target, *RULE_C)
    there_read, here_write = os.pipe()
    here_read, there_write = os.pipe()
    command = f"exec ./fuzz -max_total_time={seconds} -max_len=900 -len_control=20 -verbosity=1 -seed=1 " \
              f"3>&{there_write} 4<&{there_read} 2>said {there_write}>&- {there_read}<&-"
    process = subprocess.Popen(["bash", "-c", command], cwd=folder, pass_fds=(there_read, there_write))
    os.close(there_read)
    os.close(there_write)
    fuzzed = Fuzzed()
    with os.fdopen(here_read, "rb") as questions, os.fdopen(here_write, "wb", buffering=0) as answers:
        while fuzzed.find is None and (head := questions.read(8)):
            answers.write(bytes([_agree(head, questions, fuzzed)]))
    process.wait()
    fuzzed.said = (folder / "said").read_text(errors="replace")
    return fuzzed


def _agree(head: bytes, questions, fuzzed: Fuzzed) -> bool:
    samples, events = struct.unpack("=2I", head)
    rule = rule_from(questions.read(_SETTINGS.size))
    rows = list(struct.iter_unpack("=4h", questions.read(8 * samples)))
    found: list[Attempt] = [attempt_of(row) for row in _ROW.iter_unpack(questions.read(_ROW.size * events))]
    expected = attempts_of(rule, stretches_of(rows))
    fuzzed.inputs += 1
    fuzzed.samples += samples
    fuzzed.attempts += len(found)
    if found != expected:
        fuzzed.find = f"{rule}\n{rows}\nthe C: {found}\nthe reference: {expected}"
        return False
    return True
