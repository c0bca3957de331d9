"""A sender of its own process, with its own count: plays simulated nodes into a pipe, a socket or a terminal.

python -m tests.app.study.capture.sender NODES SAMPLES RATE PROTOCOL SPEED TARGET, where TARGET is - for standard
output, HOST:PORT for TCP, else the path of a terminal. At the end it prints how many samples of each node it sent, to
standard error.
"""

import os
import socket
import sys
import time
import tty

import numpy as np

from app.study.capture.simulator import Schedule, SimulatedNode
from detect.firmware.twins.frame import Hello


def made(nodes: int, samples: int, rate_hz: float, seed: int = 5) -> list[SimulatedNode]:
    """Nodes whose samples anybody can make again: standing, with falls now and then."""
    dice = np.random.default_rng(seed)
    found = []
    for number in range(1, nodes + 1):
        counts = np.tile(np.array([0, 512, 0]), (samples, 1)) + dice.integers(-12, 13, (samples, 3))
        period = int(15 * rate_hz)
        for at in range(int(6 * rate_hz) + number, samples - int(8 * rate_hz), period):
            low, end = int(0.3 * rate_hz), int(6 * rate_hz)
            counts[at:at + low] //= 10
            counts[at + low] = [1500, 900, 0]
            counts[at + low + 1:at + end] = counts[at + low + 1:at + end, [1, 0, 2]]
        hello = Hello(100 + number, round(rate_hz * 1000), 512_000, 12, 0, 1, "sender")
        found.append(SimulatedNode(number, counts.astype(np.int16), hello))
    return found


def main() -> int:
    nodes, samples, rate, protocol, speed, target = sys.argv[1:]
    schedule = Schedule(made(int(nodes), int(samples), float(rate)), protocol)
    if target == "-":
        file = sys.stdout.fileno()
    elif target.startswith("/"):
        file = os.open(target, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(file)
    else:
        host, _, port = target.rpartition(":")
        line = socket.create_connection((host, int(port)))
        file = line.fileno()
    began = time.monotonic()
    while not schedule.over:
        data = b"".join(schedule.take((time.monotonic() - began) * float(speed)))
        while data:
            data = data[os.write(file, data):]
        time.sleep(0.002)
    print(*schedule.samples_sent, file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
