"""Mutants of record, recorder, log, alarm and link in C, as `mutants.py` makes them of the detector.

Run as a program it prints what survives: python -m tests.detect.firmware.around_mutants [log …]
"""

import sys

from detect.firmware.sources import AROUND, AROUND_C, DEVICE_SELFTEST_C, source
from tests.detect.firmware.mutants import Mutant, mutants_of, proof_of, run

FIRST = {"record": "uint32_t plf_crc32", "log": "static uint32_t in_units", "recorder": "static uint32_t room_for",
         "alarm": "static enum plf_alarm_action go", "link": "static uint8_t *put"}

# Names that a hand might mistake for each other: each in a row becomes the next.
NAMES = (
    ("before", "after"), ("seconds", "milliseconds"), ("bits", "shift"), ("area_bytes", "slot_bytes"),
    ("first_low_ago", "last_low_ago", "first_impact_ago", "impact_ago"), ("lowest", "highest", "peak", "restarts"),
    ("a_sq", "b_sq", "a_u_sq", "u_sq"), ("dot", "dot_u"), ("q", "n"), ("ended", "early", "failed", "unspoken"),
    ("PLF_RECORD_SHORT", "PLF_RECORD_DAMAGED", "PLF_RECORD_NONE", "PLF_RECORD_WHOLE"),
    ("PLF_LOG_DONE", "PLF_LOG_REFUSED", "PLF_LOG_MISSING", "PLF_LOG_FAILED"),
    ("cancel_ms", "resend_ms", "slow_ms", "rest_ms"), ("sends", "withdrawn", "swallowed", "number"),
    ("PLF_ARMED", "PLF_WARNING", "PLF_SENT", "PLF_UNHEARD", "PLF_RESTING"),
    ("PLF_FALL", "PLF_CANCEL", "PLF_ACKNOWLEDGE", "PLF_REARM", "PLF_TIME"),
    ("PLF_DO_NOTHING", "PLF_DO_WARN", "PLF_DO_SEND", "PLF_DO_CANCEL", "PLF_DO_DESPAIR", "PLF_DO_HEARD", "PLF_DO_ARM"),
    ("PLF_COUNT", "PLF_READ", "PLF_CLEAR", "PLF_SET_TIME", "PLF_HEARD", "PLF_ARM"),
    ("PLF_UNKNOWN", "PLF_MALFORMED", "PLF_NO_RECORD", "PLF_OUT_OF_RECORD", "PLF_NEWER", "PLF_NO_MEMORY"),
    ("oldest", "newest", "records"), ("at", "count", "left"),
)

EQUIVALENT: dict[str, dict[tuple[str, str], str]] = {}
"""Mutants that no vector can fail on: what they change makes no difference, and why. Code before and after, by file."""


def around_mutants(name: str) -> list[Mutant]:
    return mutants_of(source(f"plumbfall_{name}.c").decode(), FIRST[name], NAMES)


def survivors(name: str) -> tuple[int, list[Mutant]]:
    """How many mutants of a file the vectors kill, and those that live without a proof that they may."""
    file = f"plumbfall_{name}.c"
    by_verdict = run(around_mutants(name), file, (DEVICE_SELFTEST_C, *(one for one in AROUND_C if one != file)))
    alive = [mutant for mutant in by_verdict["alive"] if proof_of(mutant, EQUIVALENT.get(name, {})) is None]
    return len(by_verdict["killed"]), alive


def main() -> int:
    for name in sys.argv[1:] or AROUND:
        killed, alive = survivors(name)
        print(f"{name}: {killed} killed, {len(alive)} alive")
        for mutant in alive:
            print(f"  {mutant}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
