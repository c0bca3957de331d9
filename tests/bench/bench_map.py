"""How long maps of two settings take, first look and finished: `python -m tests.bench.bench_map [STUDY]`.

Without a study, on the demo. On one core, as the window draws them, and by two workers who are there already but must
be given the recordings; the aim is 3 s for 60 × 60 on a study of some 500 recordings.
"""

from __future__ import annotations

import sys
import tempfile
import time
from concurrent.futures import Executor
from pathlib import Path

from app.study.results.counts import Counter
from app.study.results.setting_map import map_of
from app.study.session import Session
from app.study.storage import study_files
from app.study.workers import processes

PAIRS = (("impact_g", "free_fall_g"), ("impact_g", "still_g"), ("tilt_deg", "still_g"), ("settle_ms", "observe_ms"),
         ("free_fall_ms", "impact_within_ms"))
AIM_S = 3.0


def main(path: Path | None = None) -> None:
    with tempfile.TemporaryDirectory() as folder:
        session = Session.opened(path if path is not None else study_files.ready(Path(folder)))
        _, labelled, prepared, _ = session.evaluated()
        print(f"{session.study.title}: {len(prepared.names)} recordings, {prepared.engine.corpus.samples} samples, "
              f"{len(labelled.events)} events; aim {AIM_S:g} s")
        print(f"{'across × up':<34} {'points':>7} {'first look, s':>14} {'one core, s':>12} {'of it CPU':>10} "
              f"{'points/s':>9} {'two workers, s':>15}")
        with processes(2) as workers:
            assert workers is not None
            for keys in PAIRS:
                first, took, cpu, points = measured(session, keys, None)
                print(f"{' × '.join(keys):<34} {points:>7} {first:>14.2f} {took:>12.2f} {cpu:>10.2f} "
                      f"{points / took:>9.0f} {measured(session, keys, workers)[1]:>15.2f}")


def measured(session: Session, keys: tuple[str, str], executor: Executor | None) -> tuple[float, float, float, int]:
    """Seconds to the first look, to the end, on the processor; points. A counter of its own for each map, so that none
    profits from another's."""
    _, labelled, prepared, _ = session.evaluated()
    counter = Counter(prepared, labelled, executor)
    looks: list[float] = []
    began, cpu = time.perf_counter(), time.process_time()
    view = map_of(session.study.settings, counter, keys, lambda share: None, lambda: False,
                  lambda view: looks.append(time.perf_counter() - began))
    took, cpu = time.perf_counter() - began, time.process_time() - cpu
    return looks[0] if looks else took, took, cpu, view.known.size


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
