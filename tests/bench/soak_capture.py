"""The long capture: sixteen boards of 200 Hz at their true speed, recorded by the command with the rule running.

    python -m tests.bench.soak_capture [--hours 1]

Prints samples sent and lost, the share of a core that the command and its reading process take together, and their
memory after a quarter of the time and at the end. Fails where a sample is lost, at more than 15 % of a core, or where
memory grows by more than 30 MB. POSIX, with /proc.
"""

from __future__ import annotations

import argparse
import json
import os
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
NODES, RATE_HZ = 16, 200
MOST_SHARE, MOST_GROWN_MB = 0.15, 30
LISTENS_S, LOOK_S, AFTER_S = 6.0, 5.0, 60.0


def family(pid: int) -> list[int]:
    """A process and all that it began."""
    found = [pid]
    for path in Path("/proc").iterdir():
        if path.name.isdigit() and (fields := _fields(int(path.name))) and int(fields[1]) == pid:
            found += family(int(path.name))
    return found


def _fields(pid: int) -> list[str]:
    """Of its /proc/…/stat, from the state on; none where it is gone."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    except OSError:
        return []


def taken(pid: int) -> tuple[float, float]:
    """Seconds of processor and MB of memory of a process and all that it began."""
    each = [fields for one in family(pid) if (fields := _fields(one))]
    ticks, page = os.sysconf("SC_CLK_TCK"), os.sysconf("SC_PAGE_SIZE")
    return sum(int(f[11]) + int(f[12]) for f in each) / ticks, sum(int(f[21]) for f in each) * page / 1e6


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hours", type=float, default=1.0)
    samples = round(parser.parse_args().hours * 3600 * RATE_HZ)
    with tempfile.TemporaryDirectory() as folder, socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
        free.close()
        words = ["capture", "--listen", port, "--nodes", NODES, "--study", Path(folder) / "soak.json", "--json",
                 "--seconds", samples / RATE_HZ + AFTER_S]
        capture = subprocess.Popen([sys.executable, "-m", "app", *map(str, words)], cwd=ROOT, text=True,
                                   stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        time.sleep(LISTENS_S)
        words = ["tests.app.study.capture.sender", NODES, samples, RATE_HZ, "binary", 1, f"127.0.0.1:{port}"]
        sender = subprocess.Popen([sys.executable, "-m", *map(str, words)], cwd=ROOT, text=True,
                                  stderr=subprocess.PIPE)
        began, looks = time.monotonic(), []
        while sender.poll() is None and capture.poll() is None:
            looks.append(taken(capture.pid))
            time.sleep(LOOK_S)
        took = time.monotonic() - began
        sent = sum(int(word) for word in sender.communicate()[1].split())
        made = json.loads(capture.communicate()[0])
    return told(sent, made, looks, took)


def told(sent: int, made: dict[str, list[dict[str, int]]], looks: list[tuple[float, float]], took: float) -> int:
    received, lost = (sum(node[key] for node in made["nodes"]) for key in ("received", "lost"))
    share = (looks[-1][0] - looks[0][0]) / took
    quarter, end = looks[len(looks) // 4][1], looks[-1][1]
    print(f"{NODES} boards of {RATE_HZ} Hz for {took / 3600:.2f} h")
    print(f"{sent} samples sent, {received} recorded, {lost} lost")
    print(f"reading, writing and the rule: {100 * share:.1f} % of a core; bar {100 * MOST_SHARE:.0f} %")
    print(f"memory: {quarter:.0f} MB after a quarter, {end:.0f} MB at the end")
    return int(received != sent or lost > 0 or share > MOST_SHARE or end - quarter > MOST_GROWN_MB)


if __name__ == "__main__":
    sys.exit(main())
