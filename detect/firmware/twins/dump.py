"""A dump of the log's memory taken apart: every whole record, and what is wrong with the rest, with its place.

Nothing of a dump is trusted. A record counts where both its checksums agree, wherever it lies; what it says of memory
and slots then tells whether the dump is all of it, and what should stand between the records.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from detect.firmware.twins.detector import attempt_of
from detect.firmware.twins.log import OUTCOME_BYTES, OUTCOMES, order_of, outcome_of
from detect.firmware.twins.record import (
    ALARM,
    CLEARED,
    HEADER_BYTES,
    MARK,
    MOST_BYTES,
    NotARecord,
    Record,
    RecordHead,
    decoded,
    header_of,
    size_of,
)
from detect.firmware.twins.ring import BLANK
from detect.rule.attempt import Attempt


@dataclass(frozen=True, eq=False)
class DumpedRecord:
    """A whole record at byte `at`. `cleared`: the station has read it, as a later record says."""

    at: int
    record: Record
    outcome: str
    cleared: bool

    @property
    def end(self) -> int:
        return self.at + size_of(self.record.head)


@dataclass(frozen=True)
class Fault:
    """Bytes `at` up to `at + size` that are not part of a whole record.

    `kind`: "short", "long", "damaged", "unfinished" (behind the newest record, where a cut or the recycling of old ones
    leaves such), "outcome", "outside" (behind the last slot).
    """

    kind: str
    at: int
    size: int
    message: str

    def __str__(self) -> str:
        return f"bytes {self.at} to {self.at + self.size - 1}: {self.message}"


@dataclass(frozen=True, eq=False)
class Dump:
    """What came of a dump: records in the order of their numbers, and faults in the order of their places."""

    found: tuple[DumpedRecord, ...]
    faults: tuple[Fault, ...]

    @property
    def alarms(self) -> list[DumpedRecord]:
        return [one for one in self.found if one.record.head.kind == ALARM]

    @property
    def sound(self) -> bool:
        """Nothing is wrong with it: what is unfinished behind the newest record is as it should be."""
        return all(fault.kind == "unfinished" for fault in self.faults)


def dump_of(data: bytes) -> Dump:
    """A memory as it was read out, from its first byte to its last."""
    places = list(_whole(data))
    if not places:
        blank = not data.strip(bytes([BLANK]))
        return Dump((), () if blank else (Fault("damaged", 0, len(data), "they contain no whole record."),))
    newest = max(places, key=lambda pair: order_of(pair[1].head))[1].head
    memory, slot_bytes = newest.memory_bytes, newest.slot_bytes
    faults = [*_length_faults(len(data), memory)]
    cleared = max((record.head.sequence for _, record in places if record.head.kind == CLEARED), default=0)
    at_place = {}
    for at, record in places:
        outcome, fault = _behind(data, at, record)
        at_place[at] = DumpedRecord(at, record, outcome, _is_cleared(record.head, cleared))
        faults += [] if fault is None else [fault]
    if slot_bytes >= HEADER_BYTES:
        faults += _slot_faults(data[:memory], memory, slot_bytes, at_place)
    return Dump(tuple(sorted(at_place.values(), key=lambda one: order_of(one.record.head))),
                tuple(sorted(faults, key=lambda fault: fault.at)))


def _is_cleared(head: RecordHead, cleared: int) -> bool:
    """What clears has the number of the newest alarm that it clears; of earlier firmware, one of its own."""
    return head.sequence < cleared or (head.sequence == cleared and head.kind == ALARM)


def records_of(data: bytes) -> Dump:
    """Records one behind the other, as a station reads them; of their outcomes nothing is known here."""
    places = list(_whole(data))
    found = tuple(DumpedRecord(at, record, OUTCOMES[0], False) for at, record in places)
    faults, begin = [], 0
    for at, end in [*((one.at, one.end) for one in found), (len(data), len(data))]:
        if at > begin:
            faults.append(Fault("damaged", begin, at - begin, f"are not a whole record{_named(data, begin)}."))
        begin = end
    return Dump(found, tuple(faults))


def _whole(data: bytes) -> Iterator[tuple[int, Record]]:
    at = data.find(MARK)
    while at >= 0:
        try:
            record = decoded(data[at:at + MOST_BYTES])
        except NotARecord:
            at = data.find(MARK, at + 1)
        else:
            yield at, record
            at = data.find(MARK, at + size_of(record.head))


def _length_faults(size: int, memory: int) -> Iterator[Fault]:
    if size < memory:
        yield Fault("short", size, memory - size,
                    f"are missing: the memory has {memory} and the dump {size}. Read it out again.")
    elif size > memory:
        yield Fault("long", memory, size - memory, f"are not the log's, whose memory has {memory}.")


def _behind(data: bytes, at: int, record: Record) -> tuple[str, Fault | None]:
    """What became of the alarm, from what stands in the slot behind its record, and what is wrong there."""
    head = record.head
    begin, end = at + size_of(head), min(at + head.slot_bytes, len(data))
    rest = data[begin:end]
    first = len(rest) - len(rest.lstrip(bytes([BLANK])))
    outcome = outcome_of(rest[first:first + OUTCOME_BYTES], head.sequence)
    left = rest[first + (0 if outcome == OUTCOMES[0] else OUTCOME_BYTES):].strip(bytes([BLANK]))
    if not left:
        return outcome, None
    return outcome, Fault("outcome", begin, end - begin, f"what became of record {head.sequence} can't be read there.")


def _slot_faults(data: bytes, memory: int, slot_bytes: int, at_place: dict[int, DumpedRecord]) -> Iterator[Fault]:
    """Slots that are neither blank nor begin with a whole record, and what stands behind the last slot."""
    slots = max(memory // slot_bytes, 1)
    newest = max(at_place.values(), key=lambda one: order_of(one.record.head))
    unfinished = set()
    for step in range(1, min(slots, len(data))):
        slot = (newest.at // slot_bytes + step) % slots
        if slot * slot_bytes in at_place:
            break
        unfinished.add(slot)
    for at in range(0, len(data), slot_bytes):
        held = data[at:at + slot_bytes]
        if at in at_place or not held.strip(bytes([BLANK])):
            continue
        if at // slot_bytes >= slots:
            yield Fault("outside", at, len(held), "are behind the last slot.")
        elif at // slot_bytes in unfinished and len(held) == slot_bytes:
            yield Fault("unfinished", at, slot_bytes, "are of a record that was being written, or of an old one that "
                        f"was being recycled{_named(data, at)}.")
        else:
            yield Fault("damaged", at, len(held), f"are no longer a whole record{_named(data, at)}.")


def _named(data: bytes, at: int) -> str:
    """What a damaged record still says of itself."""
    try:
        head, _ = header_of(data[at:at + HEADER_BYTES])
    except NotARecord:
        return ""
    return f"; by its header it was number {head.sequence}, at {head.time_s:.3f} s of the device's clock"


def attempt_in(record: Record) -> Attempt | None:
    """What the detector measured, its sample numbers those of the record's samples: negative where they were not kept.

    None where nothing was measured, or no attempt has such an end.
    """
    event: Sequence[int] | None = record.head.event
    if event is None or event[0] > 3:
        return None
    numbers = list(event)
    numbers[7] = record.head.before - 1  # `decided`, which all others are told from
    return attempt_of(numbers)


def counts_per_g(record: Record) -> float:
    return record.head.counts_per_1000_g / 1000


def in_g(record: Record) -> np.ndarray:
    """(n, 3) float64, in g."""
    return np.asarray(record.samples / counts_per_g(record), dtype=np.float64)
