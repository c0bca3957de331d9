"""Falls, records, streams and flashes made up for the tests of log, alarm, link and target; a device to wear them."""

import os
import subprocess
from collections.abc import Callable, Iterable
from pathlib import Path
from random import Random

import numpy as np

from detect.firmware.export import EXAMPLE_C, FIRMWARE_C
from detect.firmware.twins.log import Ring
from detect.firmware.twins.record import Record, RecordHead, kept, record_bytes
from detect.firmware.twins.ring import Flash
from tests.detect.firmware.toolchain import built

PROGRAMS = Path(__file__).with_name("programs")

_EVENT_BITS = (8, 8, 8, 8, 16, 16, 16, *(32,) * 9, -64, -64, 32, 32, 32, 32, 64)


def falls(count, seed=1):
    """Standing, falling, hitting, lying, again and again."""
    rng = np.random.default_rng(seed)
    pieces = []
    for _ in range(count):
        pieces += [np.tile([0, 512, 0], (400, 1)), np.zeros((8, 3)), [[1400, 900, 0]], np.tile([500, 60, 20], (700, 1))]
    return (np.vstack(pieces) + rng.normal(0, 8, (sum(map(len, pieces)), 3))).round().astype(np.int16)


def random_event(dice: Random) -> tuple[int, ...]:
    return tuple(dice.getrandbits(bits) if bits > 0 else dice.getrandbits(64) - 2**63 for bits in _EVENT_BITS)


def random_record(dice: Random, most: int = 12) -> Record:
    """Any record there can be, with up to 2 · `most` samples of any size."""
    bits = dice.randint(2, 16)
    before, after = dice.randint(0, most), dice.randint(0, most)
    word, half = (lambda: dice.getrandbits(32)), (lambda: dice.getrandbits(16))
    head = RecordHead(word(), word(), dice.randint(0, 999), half(), word(), word(), word(), word(), half(), before,
                      after,
                dice.randint(0, 1), bits, dice.randint(0, 16 - bits),
                random_event(dice) if dice.random() < 0.6 else None)
    raw = np.frombuffer(dice.randbytes(6 * (before + after)), np.int16).reshape(-1, 3)
    return Record(head, raw)


def as_kept(record: Record) -> Record:
    """What comes out again."""
    return Record(record.head, kept(record.samples, record.head.bits, record.head.shift))


def alarm_record(number: int, samples: int = 20, bits: int = 12) -> Record:
    """A record as a log takes it, the number in its time and its samples."""
    rows = (np.arange(3 * samples).reshape(-1, 3) * 7 + number * 11) % 2**bits - 2 ** (bits - 1)
    return Record(RecordHead(0, seconds=number, node=3, before=samples - 2, after=2, bits=bits), rows.astype(np.int16))


def filled_ring(count: int, flash: Flash, samples: int = 20, bits: int = 12) -> Ring:
    ring = Ring(flash, record_bytes(samples, bits, measured=False))
    for number in range(1, count + 1):
        one = alarm_record(number, samples, bits)
        ring.append(one.head, one.samples)
    return ring


def built_device(folder: Path, compiler: str, *flags: str) -> Callable[..., tuple[bytes, str]]:
    """The exported example of a folder, built for a board that is given stretches of counts, (n, 3) each; returns its
    log's memory and what the alarm's life asked for."""
    wiring = [name for name in EXAMPLE_C if "fake" not in name]
    device = built(folder, "device", compiler, (*flags, "-I", ".", "-I", "example"),
                   (PROGRAMS / "device.c", *wiring, *FIRMWARE_C))

    def run(stretches: Iterable[np.ndarray], pressed_after_ms: int | None = None) -> tuple[bytes, str]:
        data = b"".join(np.uint32(len(stretch)).tobytes() + np.ascontiguousarray(stretch, np.int16).tobytes()
                        for stretch in stretches)
        pressed = {} if pressed_after_ms is None else {"PRESSED_AFTER_MS": str(pressed_after_ms)}
        done = subprocess.run([device], input=data, capture_output=True, check=True,
                              env={**os.environ, **pressed})
        return done.stdout, done.stderr.decode()
    return run
