"""Sixty parts over ten million samples in a process of its own, which says how much memory it took at most.

`python -m tests.detect.device.part.what_if_memory WORKERS`: bytes of this process and of the largest
worker, parts tried.
"""

from __future__ import annotations

import math
import resource
import sys
import time

import numpy as np

from app.study.workers import processes
from detect.device.part.material import Material, RecordingLimits, TrialRecording
from detect.device.part.what_if import Grid, PartCell, what_if
from detect.rule.front_end import FrontEnd
from detect.rule.settings import DEFAULTS
from detect.rule.timeline import even
from detect.workers import Shared
from tests.detect.device.made_material import fall, walk

SAMPLES, RECORDINGS, RATE_HZ = 10_000_000, 20, 100.0
GRID = Grid((2.0, 4.0, 8.0), (25.0, 40.0, 50.0, 62.5, 100.0), (8, 12), (None, "half"))


def main(workers: int) -> None:
    each, rng = SAMPLES // RECORDINGS, np.random.default_rng(5)
    day = np.concatenate([walk(RATE_HZ, 580), fall(RATE_HZ)])
    samples = [np.ascontiguousarray(np.resize(day, (each, 3)) + rng.normal(0, 0.02, (each, 3)))
               for _ in range(RECORDINGS)]
    sources = tuple(TrialRecording(f"R{i}", g, 1.0, RATE_HZ, even(each, RATE_HZ), "free-living", i)
                    for i, g in enumerate(samples))
    places = range(RECORDINGS)
    material = Material(sources, tuple(places), (True,) * RECORDINGS, (589.0,) * RECORDINGS, (592.0,) * RECORDINGS,
                        0.5, 1.0, RECORDINGS, (True,) * RECORDINGS)
    recorded = [RecordingLimits(one.name, RATE_HZ, math.inf, 0.0) for one in sources]
    began = time.perf_counter()
    with processes(workers) as executor:
        found = what_if(Shared(material), recorded, GRID, DEFAULTS, PartCell(FrontEnd(4, 12, 100), None),
                        executor=executor)
    tried = sum(one.figures is not None for one in found)
    own, child = (resource.getrusage(who).ru_maxrss * 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    print(own, child, tried, f"{time.perf_counter() - began:.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]))
