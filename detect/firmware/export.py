"""The folder that leaves for a firmware project, as names and contents; whoever calls this writes them."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from detect.device.life import alarm_settings
from detect.device.memory import shape_of
from detect.device.table import UNCHANGED
from detect.device.values import Values
from detect.firmware import device_vectors, header, vectors
from detect.firmware.fields import ring_words
from detect.firmware.header import Provenance, write_header
from detect.firmware.sources import (
    AROUND_C,
    AROUND_H,
    BUILD_MD,
    DETECTOR_C,
    DETECTOR_H,
    DEVICE_SELFTEST_C,
    LOG_MD,
    SELFTEST_C,
    source,
)
from detect.firmware.vector_parts import golden_parts, own_part
from detect.firmware.vectors import RenderedPart, flash_bytes, rendered, write_vectors
from detect.frontend import FrontEnd
from detect.rule import Rule, rule_of
from detect.settings import Settings

AROUND = (*AROUND_H, *AROUND_C, DEVICE_SELFTEST_C)
"""What goes along as it lies in the package: log, alarm and link, and their test program."""

NAMES = (header.NAME, DETECTOR_H, DETECTOR_C, vectors.NAME, SELFTEST_C, BUILD_MD, *AROUND, LOG_MD, device_vectors.NAME)


def write_export(settings: Settings, front_end: FrontEnd, provenance: Provenance,
                 device: Values = UNCHANGED) -> dict[str, bytes]:
    """Every file of the folder by its name; the same input gives the same bytes. `device`: its log and its alarm's
    life stand in LOG.md.

    BadSetting where a setting has no integer that the detector's arithmetic can hold.
    """
    params = write_header(settings, front_end, provenance)
    rule = rule_of(settings, front_end)
    return {
        header.NAME: params.encode("ascii"),
        DETECTOR_H: source(DETECTOR_H),
        DETECTOR_C: source(DETECTOR_C),
        vectors.NAME: write_vectors(_parts(rule)).encode("ascii"),
        SELFTEST_C: source(SELFTEST_C),
        BUILD_MD: _page(rule, front_end).encode("utf-8"),
        **{name: source(name) for name in AROUND},
        LOG_MD: _log_page(front_end, device).encode("utf-8"),
        device_vectors.NAME: device_vectors.write_device_vectors().encode("ascii"),
    }


@lru_cache(maxsize=1)
def _golden() -> tuple[RenderedPart, ...]:
    """The parts that are the same in every export; the reference needs seconds for them."""
    return tuple(rendered(part) for part in golden_parts())


def _parts(rule: Rule) -> tuple[RenderedPart, ...]:
    return (*_golden(), rendered(own_part(rule)))


def _page(rule: Rule, front_end: FrontEnd) -> str:
    parts = _parts(rule)
    largest = max(flash_bytes(part) for part in parts)
    scale = f"{front_end.k:.6g} counts per g"
    return _filled(BUILD_MD, (
        ("@FRONT_END@", f"a sensor of {front_end.rate_hz:g} samples a second, ±{front_end.range_g:g} g in "
                        f"{front_end.bits} bits, {scale}"),
        ("@WIDTH@", str(front_end.bits)),
        ("@RING_BYTES@", str(2 * ring_words(rule))),
        ("@PARTS@", str(len(parts))),
        ("@PART_KIB@", str(-(-largest // 1024))),
        ("@IDENTITY@", f"0x{header.identity(rule, front_end):08X}"),
    ))


def _log_page(front_end: FrontEnd, device: Values) -> str:
    shape, life = shape_of(device, front_end), alarm_settings(device)
    rows = (("BEFORE", shape.before), ("AFTER", shape.after), ("BITS", shape.bits), ("SHIFT", shape.shift),
            ("MEASURED", int(device.on("memory.measured"))), ("CANCEL_MS", life.cancel_ms),
            ("RESEND_MS", life.resend_ms), ("SENDS", life.sends), ("SLOW_MS", life.slow_ms), ("REST_MS", life.rest_ms))
    before, after = (device.number(f"memory.{key}_s") for key in ("before", "after"))
    kept = f"{before:g} s and {after:g} s at {front_end.rate_hz:g} Hz"
    return _filled(LOG_MD, (*((f"@{name}@", str(value)) for name, value in rows), ("@KEPT@", kept)))


def _filled(page: str, values: Iterable[tuple[str, str]]) -> str:
    """A page of the package with what is this export's own in place of its tokens."""
    text = source(page).decode("utf-8")
    for token, value in values:
        text = text.replace(token, value)
    return text
