"""A proxy with faults between a sender and a capture, as a process of its own.

python -m tests.app.study.capture.proxy LISTEN_PORT HOST:PORT FAULTS SEED, where FAULTS is JSON of faults.Faults, with
"delay_s" (the most that a piece waits) and "baud" (the receiver's, as a share of the sender's). Frames are passed on
whole, damaged, twice, late or not at all, their bytes in other pieces. At the end it prints how many messages of
samples never came and came twice, by node, as JSON.
"""

import json
import socket
import sys
import time
from collections import Counter

import numpy as np

from app.study.capture.faults import Faults, FaultyLine
from detect.firmware.twins.frame import SAMPLES, Receiver, samples_in


def samples_of(frames: list[bytes]) -> dict[int, int]:
    """How many samples the frames hold, by node."""
    found: Counter[int] = Counter()
    for message in Receiver().take(b"".join(frames)):
        if message.kind == SAMPLES:
            found[message.node] += len(samples_in(message))
    return dict(found)


def at_baud(data: bytes, share: float) -> bytes:
    """What a receiver makes of bytes that were sent at another speed: it looks for a start bit, and takes eight bits at
    its own pace."""
    if share == 1:
        return data
    bits = np.concatenate([[0, *(byte >> i & 1 for i in range(8)), 1] for byte in data] + [[1] * 20])
    found, at = bytearray(), 0.0
    while at < len(bits) - 12 / share:
        if bits[int(at)]:
            at += 0.25
            continue
        read = [int(bits[int(at + (1.5 + i) / share)]) for i in range(8)]
        found.append(sum(bit << i for i, bit in enumerate(read)))
        at += 9.5 / share
    return bytes(found)


def main() -> int:
    port, target, plain, seed = sys.argv[1:]
    given = json.loads(plain)
    delay_s, baud = given.pop("delay_s", 0.0), given.pop("baud", 1.0)
    line, dice = FaultyLine(Faults(**given), int(seed)), np.random.default_rng(int(seed) + 1)
    listening = socket.create_server(("127.0.0.1", int(port)))
    sender, _ = listening.accept()
    host, _, out_port = target.rpartition(":")
    out = socket.create_connection((host, int(out_port)))
    begun, spared = b"", []
    while data := sender.recv(65536):
        *whole, begun = (begun + data).split(b"\0")
        frames = [frame + b"\0" for frame in whole if frame]
        spared += frames[:20 - len(spared)] if len(spared) < 20 else []
        held = frames if len(spared) < 20 else line.take(frames)
        for piece in line.pieces(held) if held else []:
            time.sleep(float(dice.uniform(0, delay_s)))
            out.sendall(at_baud(piece, baud))
    for piece in line.rest():
        out.sendall(piece)
    out.close()
    print(json.dumps({"lost": samples_of(line.never_came), "twice": samples_of(line.came_twice)}))
    return 0


if __name__ == "__main__":
    sys.exit(main())
