"""A dump of the device's log as files that can be read, looked at and scored like any other recording."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from app.formatting import csv_text
from data.files import content_of, write_atomically
from data.problem import Problem, os_refusals
from data.recipe.recipe import Recipe, recipe_to_toml
from data.recipe.sections import Clock, ColumnNames, FrontEndSection, TableLayout, Units
from detect.firmware.twins.dump import Dump, DumpedRecord, Fault, attempt_in, counts_per_g, dump_of, in_g, records_of
from detect.firmware.twins.record import RecordHead

RECORDINGS, LABELS, RECIPE = "recordings", "device_events.tsv", "recipe.toml"
ANNOTATOR = "device"
"""Whose word the labels are: the device's own, until a person has looked."""

_NO_FALL = ("cancelled", "withdrawn")
_COLUMNS = ("onset", "duration", "trial_type", "recording", "kind", "extent", "annotator", "comment")


@dataclass(frozen=True)
class Decoded:
    """One dump; `names`: of each of its alarms, in order, the recording made of it."""

    source: str
    dump: Dump
    names: tuple[str, ...]


@dataclass(frozen=True)
class Written:
    decoded: tuple[Decoded, ...]
    files: tuple[Path, ...]
    remarks: tuple[str, ...]


def decode(sources: Sequence[Path], folder: Path, over_the_link: bool) -> Written:
    """Recordings, labels and a recipe out of dumps. Problem where a file can't be read or written, or holds nothing."""
    named: set[str] = set()
    decoded, rows, files = [], [], {}
    for source in sources:
        with os_refusals(str(source), "read"):
            content = content_of(source)
        dump = (records_of if over_the_link else dump_of)(content)
        names = []
        for found in dump.alarms:
            name = _name(found.record.head, named)
            names.append(name)
            if len(found.record.samples):
                files[f"{RECORDINGS}/{name}.csv"] = _recording(found, source.name)
                rows.append(_label(found, name))
        decoded.append(Decoded(source.name, dump, tuple(names)))
    if not files:
        raise _nothing(decoded)
    heads = [found.record.head for one in decoded for found in one.dump.alarms if len(found.record.samples)]
    recipe, remarks = _recipe(heads)
    files[LABELS] = csv_text([_COLUMNS, *([row[name] for name in _COLUMNS] for row in rows)], "\t")
    files[RECIPE] = recipe_to_toml(recipe)
    return Written(tuple(decoded), tuple(_write(folder, files)), tuple(remarks))


def _nothing(decoded: Sequence[Decoded]) -> Problem:
    first = decoded[0]
    if not any(one.dump.faults for one in decoded):
        return Problem("no_record", "It holds no record, and nothing else.",
                       "If alarms were logged, read out the memory's own place.", file=first.source)
    fault: Fault = next(fault for one in decoded for fault in one.dump.faults)
    return Problem("no_record", f"It holds no whole record with samples; {fault}",
                   "Read the memory out again, from the log's first byte to its last.", file=first.source)


def _name(head: RecordHead, taken: set[str]) -> str:
    name = base = f"node{head.node}_alarm{head.sequence}"
    again = 1
    while name in taken:
        again += 1
        name = f"{base}_{again}"
    taken.add(name)
    return name


def _recording(found: DumpedRecord, source: str) -> str:
    """Times from 0, the oldest sample's, and the axes in g: as many digits as give the same counts again."""
    head = found.record.head
    told = (f"{source}, byte {found.at}: record {head.sequence} of node {head.node}, alarm at {head.time_s:.3f} s of "
            f"the device's clock, settings {_identity(head)}, {found.outcome}")
    lines = [f"# {told}", "time_s,ax_g,ay_g,az_g"]
    for i, (x, y, z) in enumerate(in_g(found.record).tolist()):
        lines.append(f"{i / head.rate_hz:.6f},{x!r},{y!r},{z!r}")
    return "\n".join(lines) + "\n"


def _identity(head: RecordHead) -> str:
    """The CRC-32 of the settings, with its version where that is the first: no header of today states the like."""
    return f"0x{head.settings_crc32:08X}" + (" (identity version 1)" if head.version == 1 else "")


def _label(found: DumpedRecord, name: str) -> dict[str, str]:
    """The device's claim: from the fall's beginning, as far as that was kept, to the impact; else the whole record."""
    head, attempt = found.record.head, attempt_in(found.record)
    remarks = [f"the device's own word: {found.outcome}; look before you score"]
    if found.cleared:
        remarks.append("cleared")
    row = {"trial_type": f"alarm {found.outcome}", "recording": name, "annotator": ANNOTATOR,
           "kind": "other" if found.outcome in _NO_FALL else "fall", "extent": "interval"}
    last = head.before - 1
    first = 0
    if attempt is not None and attempt.impact is not None:
        last = max(attempt.impact, 0)
        began = attempt.first_low if attempt.first_low is not None else attempt.first_impact
        first = max(began or 0, 0)
        if attempt.impact < 0 or (began or 0) < 0:
            remarks.append("it began before what was kept")
    onset, end = max((first - 0.5) / head.rate_hz, 0.0), (last + 0.5) / head.rate_hz
    return {**row, "onset": f"{onset:.6f}", "duration": f"{end - onset:.6f}", "comment": "; ".join(remarks)}


def _recipe(heads: Sequence[RecordHead]) -> tuple[Recipe, list[str]]:
    """How to read the recordings. The front end of the study that begins with them is the device's, where all agree."""
    rates = sorted({head.rate_hz for head in heads})
    shapes = {(head.bits + head.shift, head.counts_per_1000_g, head.rate_millihz) for head in heads}
    remarks, front_end = [], None
    if len(shapes) == 1:
        (bits, scale, _), = shapes
        width = max(bits, 8)
        front_end = FrontEndSection(2.0 ** (width - 1) / (scale / 1000), width, rates[0])
    else:
        remarks.append(f"The records are of {len(shapes)} front ends: give the study's own when you read them.")
    rounded = sorted({head.shift for head in heads if head.shift})
    if rounded:
        remarks.append(f"The device rounded the lowest {', '.join(map(str, rounded))} bits away.")
    return Recipe(columns=ColumnNames(time="time_s", x="ax_g", y="ay_g", z="az_g"),
                  table=TableLayout(delimiter=",", decimal=".", encoding="utf-8", header=True, skip_lines=1,
                                    missing=()),
                  units=Units(acceleration="g", time="s"),
                  clock=Clock(stamps="as-stamped", rates_hz=tuple(rates)), front_end=front_end), remarks


def _write(folder: Path, files: dict[str, str]) -> Iterator[Path]:
    with os_refusals(str(folder), "save"):
        (folder / RECORDINGS).mkdir(parents=True, exist_ok=True)
    for name, text in files.items():
        write_atomically(folder / name, text.encode("utf-8"))
        yield folder / name


def plain(written: Written) -> dict[str, object]:
    return {"dumps": [{"file": one.source,
                       "records": [_plain(found, name) for found, name in zip(one.dump.alarms, one.names, strict=True)],
                       "faults": [{"kind": fault.kind, "at": fault.at, "bytes": fault.size, "message": fault.message}
                                  for fault in one.dump.faults]} for one in written.decoded],
            "files": [str(path) for path in written.files], "remarks": list(written.remarks)}


def _plain(found: DumpedRecord, name: str) -> dict[str, object]:
    head = found.record.head
    return {"recording": name, "at": found.at, "number": head.sequence, "node": head.node, "time_s": head.time_s,
            "settings_crc32": f"0x{head.settings_crc32:08X}", "identity_version": head.version,
            "outcome": found.outcome, "cleared": found.cleared,
            "samples": len(found.record.samples), "before": head.before, "rate_hz": head.rate_hz,
            "counts_per_g": counts_per_g(found.record)}
