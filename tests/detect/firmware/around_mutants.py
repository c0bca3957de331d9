"""Mutants of record, recorder, log, alarm and link in C, as `mutants.py` makes them of the detector.

Run as a program it prints what survives: python -m tests.detect.firmware.around_mutants [log …]
"""

import sys

from detect.firmware.export import AROUND_C, AROUND_NAMES, CRC_C, DEVICE_VECTORS_TEST_C, source
from tests.detect.firmware.mutants import Mutant, mutants_of, proof_of, run

FIRST = {"record": "static int32_t rounded", "ring": "static uint32_t least", "log": "bool plf_log_is_mounted",
         "outcome": "static bool has",
         "recorder": "static uint32_t room_for", "alarm": "static enum plf_alarm_action go",
         "link": "enum { COUNT_BYTES", "frame": "void plf_message_begin", "crc": "uint32_t plf_crc32"}

# Names that a hand might mistake for each other: each in a row becomes the next.
NAMES = (
    ("before", "after"), ("seconds", "milliseconds"), ("bits", "shift"), ("area_bytes", "slot_bytes"),
    ("first_low_ago", "last_low_ago", "first_impact_ago", "impact_ago"), ("lowest", "highest", "peak", "restarts"),
    ("a_sq", "b_sq", "a_u_sq", "u_sq"), ("dot", "dot_u"), ("q", "n"), ("ended", "early", "failed", "skipped"),
    ("PLF_RECORD_SHORT", "PLF_RECORD_DAMAGED", "PLF_RECORD_NONE", "PLF_RECORD_WHOLE"),
    ("PLF_DONE", "PLF_REFUSED", "PLF_MISSING", "PLF_FAILED"),
    ("cancel_ms", "resend_ms", "slow_ms", "rest_ms"), ("sends", "withdrawn", "suppressed", "number"),
    ("PLF_ARMED", "PLF_WARNING", "PLF_SENT", "PLF_UNDELIVERED", "PLF_RESTING"),
    ("PLF_FALL", "PLF_CANCEL", "PLF_ACKNOWLEDGE", "PLF_REARM", "PLF_TIME"),
    ("PLF_DO_NOTHING", "PLF_DO_WARN", "PLF_DO_SEND", "PLF_DO_CANCEL", "PLF_DO_REPORT_UNDELIVERED",
     "PLF_DO_REPORT_DELIVERED", "PLF_DO_ARM"),
    ("PLF_COUNT", "PLF_READ"),
    ("PLF_LINK_MALFORMED", "PLF_LINK_NO_RECORD", "PLF_LINK_BEHIND_RECORD", "PLF_LINK_NO_MEMORY"),
    ("oldest", "newest", "records"), ("at", "count", "left"), ("sequence", "time_us"), ("dropped", "other"),
    ("code", "at"), ("node", "kind", "length"),
)

_SAME_VALUE = "differs where both are equal, and then it takes the value that is there"
_SIZEOF = "all elements of an array are of one size"
_TWOS = "on two's complement both ways give the same; the first is C's own"
_ONE_OF_A_KIND = "no two records have the same number"
_FOURTEEN = "a body has 14 bytes and more: it is dropped all the same"
_WITH_ITSELF = "one sample more, exchanged with itself"
_AT_ONCE = "only how much is done at once"
_BETWEEN = "only where the flash fails between two reads of one record"
EQUIVALENT: dict[str, dict[tuple[str, str], str]] = {
    "record": {
        ("q > top ? top", "q >= top ? top"): _SAME_VALUE,
        ("q < -top - 1 ?", "q <= -top - 1 ?"): _SAME_VALUE,
        ("q < -top - 1 ?", "q < -top - 0 ?"): "differs for -top - 1, and takes it",
        ("value <= INT64_MAX", "value < INT64_MAX"): _TWOS,
        ("value <= INT64_MAX", "value > INT64_MAX"): _TWOS,
        ("sizeof words[0]", "sizeof words[1]"): _SIZEOF,
        ("sizeof squares[0]", "sizeof squares[1]"): _SIZEOF,
    },
    "ring": {
        ("a < b ? a", "a <= b ? a"): _SAME_VALUE,
        ("record_bytes > UINT16_MAX)", "record_bytes >= UINT16_MAX)"): "what is so large doesn't fit either way",
        ("ring->newest < ring->slots ?", "ring->newest <= ring->slots ?"): "behind the last comes the first as well",
        ("tried < ring->slots", "tried <= ring->slots"): "when every slot was looked at, the first is as before",
        ("tried = 0;", "tried = 1;"): "the last one would be the newest record's own",
        ("ring->proved = 1;", "ring->proved = 2;"): "it is 0 or not",
        ("return PLF_REFUSED;", "return PLF_MISSING;"): "the log asks only whether it is done",
    },
    "log": {
        ("number < summary->oldest", "number <= summary->oldest"): _SAME_VALUE,
        ("summary->oldest == 0 ||", "summary->newest == 0 ||"): "both are 0 until there is a record, and never after",
        ("nothing = { 0 };", "nothing = { 1 };"): "the member it sets, the number, is set again below",
        ("log->last < log->ring.slots", "log->last <= log->ring.slots"):
            "behind the last slot comes the first, and no block is sound there: as in a new memory",
        ("a > b ? a", "a >= b ? a"): _SAME_VALUE,
        ("higher(record->seconds, 1)", "higher(record->seconds, 2)"):
            "nothing else has 1 or 2 there and the same number",
        ("log->newest, 0)", "log->newest, 1)"): "it is one more than the one before in any case, and so 1 at least",
        ("number > summary->newest", "number >= summary->newest"): _SAME_VALUE,
        ("number > log->cleared)", "number >= log->cleared)"): _SAME_VALUE,
        ("plf_record_size(record) <= log->ring.area_bytes", "plf_record_size(record) <= log->ring.slot_bytes"):
            "a record of this ring's slots and memory is not larger than its area",
        ("summary.records > 0", "summary.oldest > 0"): "there is an oldest where there are any",
    },
    "outcome": {
        ("uint32_t i = 0; i < sizeof log->small", "uint32_t i = 1; i < sizeof log->small"):
            "the first byte is set again below",
    },
    "recorder": {
        ("recorder->first + 1 < recorder->end", "recorder->first + 1 <= recorder->end"): _WITH_ITSELF,
        ("recorder->first + 1 < recorder->end", "recorder->first + 0 < recorder->end"): _WITH_ITSELF,
        ("recorder->count < room", "recorder->count <= room"): "what is more than the record wants is cut off later",
        ("recorder->count < room", "recorder->left < room"): "what is more than the record wants is cut off later",
        ("before > recorder->shape.before", "before >= recorder->shape.before"): _SAME_VALUE,
        ("recorder->at = 0;", "recorder->at = 1;"): "any place of the circle will do",
        ("recorder->at = 0;", "recorder->count = 0;"): "any place of the circle will do",
        ("    recorder->at = 0;", ""): "any place of the circle will do",
        ("pairs < PAIRS", "pairs <= PAIRS"): _AT_ONCE,
        ("pairs = 0;", "pairs = 1;"): _AT_ONCE,
        ("PAIRS = 16", "PAIRS = 15"): _AT_ONCE,
        ("PAIRS = 16", "PAIRS = 17"): _AT_ONCE,
        ("recorder->buffers[0] != NULL", "recorder->buffers[1] != NULL"): "both are there, or neither",
        ("recorder->frozen = 1;", "recorder->frozen = 2;"): "it is 0 or not",
        ("recorder->full = 1;", "recorder->full = 2;"): "it is 0 or not",
        ("recorder->open = 1;", "recorder->open = 2;"): "it is 0 or not",
        ("fresh = { 0 };", "fresh = { 1 };"): "the member it sets, the record's number, is set with each record",
    },
    "link": {
        ("size - offset < PLF_PART_MOST", "size - offset <= PLF_PART_MOST"): _SAME_VALUE,
        ("        refuse(reply, command, PLF_LINK_NO_MEMORY);", "        refuse(reply, command, PLF_LINK_MALFORMED);"):
            _BETWEEN,
        ("        refuse(reply, command, PLF_LINK_NO_MEMORY);", ""): _BETWEEN,
        ("    reply->length = 0;", ""): _BETWEEN,
    },
    "frame": {
        ("return 0;", "return 1;"): _FOURTEEN,
        ("unstuffed(body, size) : 0;", "unstuffed(body, size) : 1;"): _FOURTEEN,
        ("number_at(body + 2, 2)", "number_at(body + 2, 3)"): "the third byte is cut off again",
        ("return 1;", "return 2;"): "it is 0 or not",
        ("at > message->length", "at >= message->length"): "at the end there is nothing to read either way",
    },
}
"""Mutants that no vector can fail on: what they change makes no difference, and why. Code before and after, by file."""


MUTATED = ("crc", *AROUND_NAMES)


def around_mutants(name: str) -> list[Mutant]:
    return mutants_of(source(f"plumbfall_{name}.c").decode(), FIRST[name], NAMES)


def survivors(name: str) -> tuple[int, list[Mutant]]:
    """How many mutants of a file the vectors kill, and those that live without a proof that they may."""
    file = f"plumbfall_{name}.c"
    others = (one for one in (*AROUND_C, CRC_C) if one != file)
    by_verdict = run(around_mutants(name), file, (DEVICE_VECTORS_TEST_C, *others))
    alive = [mutant for mutant in by_verdict["alive"] if proof_of(mutant, EQUIVALENT.get(name, {})) is None]
    return len(by_verdict["killed"]), alive


def main() -> int:
    for name in sys.argv[1:] or MUTATED:
        killed, alive = survivors(name)
        print(f"{name}: {killed} killed, {len(alive)} alive")
        for mutant in alive:
            print(f"  {mutant}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
