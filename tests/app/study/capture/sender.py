"""A sender of its own process, with its own count: plays simulated nodes into a pipe, a socket or a terminal.

python -m tests.app.study.capture.sender NODES SAMPLES RATE PROTOCOL SPEED TARGET [ODD], where TARGET is - for standard
output, fd:N for an open file, HOST:PORT for TCP, else the path of a terminal. ODD is JSON of "first" (sequence number),
"clock_us", "ppm" (of each node in turn), "restart" (sample at which each begins anew), "hello" (false: without a word),
"same" (true: all under number 1), "drops" (true: what the line does not take at once is lost, as a board loses it). At
the end, or at SIGTERM, it prints how many samples of each node it sent, to standard error.
"""

import json
import os
import signal
import socket
import sys
import time
import tty
from dataclasses import replace

import numpy as np

from app.study.capture.simulator import Schedule, SimulatedNode, greeting, restarted
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


def scheduled(nodes, samples, rate_hz, protocol, *, first=0, clock_us=0, ppm=(0.0,), restart=0, hello=True,
              same=False) -> list[Schedule]:
    """What is sent, one after the other: before a restart and after it."""
    odd = [replace(one, number=1 if same else one.number, first=first, clock_us=clock_us, ppm=ppm[i % len(ppm)])
           for i, one in enumerate(made(nodes, samples, rate_hz))]
    if not restart:
        return [Schedule(odd, protocol)]
    again = [restarted(replace(one, counts=one.counts[restart:])) for one in odd]
    after = Silent(again, protocol) if not hello else Schedule(again, protocol)
    return [Schedule([replace(one, counts=one.counts[:restart]) for one in odd], protocol), after]


class Silent(Schedule):
    """Without greetings."""

    def take(self, until_s: float) -> list[bytes]:
        begun = list(self._at)
        messages = super().take(until_s)
        fresh = [i for i, at in enumerate(begun) if at == 0 and self._at[i]]
        hellos = {greeting(self.nodes[i], self.protocol, 0) for i in fresh}
        return [one for one in messages if one not in hellos]


def main() -> int:
    nodes, samples, rate, protocol, speed, target, *odd = sys.argv[1:]
    how = json.loads(odd[0] if odd else "{}")
    drops = how.pop("drops", False)
    schedules = scheduled(int(nodes), int(samples), float(rate), protocol, **how)
    if target == "-":
        file = sys.stdout.fileno()
    elif target.startswith("fd:"):
        file = int(target[3:])
    elif target.startswith("/"):
        file = os.open(target, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(file)
    else:
        host, _, port = target.rpartition(":")
        line = socket.create_connection((host, int(port)))
        file = line.fileno()
    os.set_blocking(file, not drops)
    stopped: list[int] = []
    signal.signal(signal.SIGTERM, lambda number, _: stopped.append(number))
    for schedule in schedules:
        began = time.monotonic()
        while not schedule.over and not stopped:
            data = b"".join(schedule.take((time.monotonic() - began) * float(speed)))
            while data:
                try:
                    data = data[os.write(file, data):]
                except BlockingIOError:
                    break
            time.sleep(0.002)
    print(*[sum(sent) for sent in zip(*(one.samples_sent for one in schedules), strict=True)], file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
