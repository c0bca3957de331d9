"""The folder that leaves for a firmware project, as names and contents; whoever calls this writes them."""

from __future__ import annotations

from functools import lru_cache

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

AROUND = (*AROUND_H, *AROUND_C, DEVICE_SELFTEST_C, LOG_MD)
"""What goes along as it lies in the package: log, alarm and link, their test program and their page."""

NAMES = (header.NAME, DETECTOR_H, DETECTOR_C, vectors.NAME, SELFTEST_C, BUILD_MD, *AROUND, device_vectors.NAME)


def write_export(settings: Settings, front_end: FrontEnd, provenance: Provenance) -> dict[str, bytes]:
    """Every file of the folder by its name; the same input gives the same bytes.

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
    text = source(BUILD_MD).decode("utf-8")
    for token, value in (
        ("@FRONT_END@", f"a sensor of {front_end.rate_hz:g} samples a second, ±{front_end.range_g:g} g in "
                        f"{front_end.bits} bits, {scale}"),
        ("@WIDTH@", str(front_end.bits)),
        ("@RING_BYTES@", str(2 * ring_words(rule))),
        ("@PARTS@", str(len(parts))),
        ("@PART_KIB@", str(-(-largest // 1024))),
        ("@IDENTITY@", f"0x{header.identity(rule, front_end):08X}"),
    ):
        text = text.replace(token, value)
    return text
