"""The folder for a firmware project, as names and contents; the caller writes them.

Its hand-written files are copied as they are in the package.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from detect.device.quantities import Values
from detect.device.quantity_table import UNCHANGED
from detect.firmware.header import device as device_header
from detect.firmware.header import writer
from detect.firmware.header.device import write_device_header
from detect.firmware.header.fields import FIELDS, ring_words
from detect.firmware.header.identity import PARAMETERS_BYTES, identity
from detect.firmware.header.writer import Provenance, write_header
from detect.firmware.statement import stating
from detect.firmware.twins.block import PIECES
from detect.firmware.vectors import detector
from detect.firmware.vectors import device as device_vectors
from detect.firmware.vectors import station as station_vectors
from detect.firmware.vectors.boundary_cases import golden_parts, own_part
from detect.firmware.vectors.detector import RenderedPart, RenderedSettings, flash_bytes, rendered, write_vectors
from detect.firmware.vectors.sensor_cases import sensor_cases
from detect.firmware.vectors.settings_cases import VECTORS_FRONT_END, settings_cases
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule, rule_of
from detect.rule.settings import Settings

DETECTOR_H = "plumbfall_detector.h"
DETECTOR_C = "plumbfall_detector.c"
SETTINGS_H = "plumbfall_settings.h"
SETTINGS_C = "plumbfall_settings.c"
SENSOR_H = "plumbfall_sensor.h"
SENSOR_C = "plumbfall_sensor.c"
CRC_H = "plumbfall_crc.h"
CRC_C = "plumbfall_crc.c"
RULE_H = (DETECTOR_H, SETTINGS_H, SENSOR_H, CRC_H)
RULE_C = (DETECTOR_C, SETTINGS_C, SENSOR_C, CRC_C)
"""The detector with what it needs."""
VECTORS_TEST_C = "plumbfall_vectors_test.c"
BUILD_MD = "BUILD.md"
TWIN_C = "twin.c"

AROUND_NAMES = ("record", "ring", "log", "outcome", "recorder", "alarm", "link", "frame")
"""The files around the detector: a .h and a .c each."""
TARGET_H, TARGET_C, TARGET_MAIN_C = "plumbfall_target.h", "plumbfall_target.c", "plumbfall_target_main.c"
TARGET = (TARGET_H, TARGET_C, TARGET_MAIN_C)
"""The program for a board on which the detector is tried."""
AROUND_H = tuple(f"plumbfall_{name}.h" for name in AROUND_NAMES)
AROUND_C = tuple(f"plumbfall_{name}.c" for name in AROUND_NAMES)
FRAME_C = "plumbfall_frame.c"
DEVICE_VECTORS_TEST_C = "plumbfall_device_vectors_test.c"
LOG_VECTORS_TEST_H = "plumbfall_log_vectors_test.h"
"""Included by the one above: its flash in RAM and the log's vectors."""
FRAME_VECTORS_TEST_H = "plumbfall_frame_vectors_test.h"
"""Included likewise: the vectors of frames."""
STATION_NAMES = ("journal", "block", "station")
"""Parameters that a station sends, and what else it may ask: a .h and a .c each. They need the rule's files, the frame,
and the headers of those around it."""
TAG = ("plumbfall_tag.h", "plumbfall_tag.c")
SIPHASH_C, SIPHASH_VECTORS = "siphash/siphash.c", "siphash/vectors.h"
SIPHASH = ("siphash/siphash.h", SIPHASH_C, SIPHASH_VECTORS, "siphash/LICENSE_CC0.txt")
"""The keyed hash of their commands: its authors' files, unchanged, and what uses them."""
STATION_H = tuple(f"plumbfall_{name}.h" for name in STATION_NAMES)
STATION_C = tuple(f"plumbfall_{name}.c" for name in STATION_NAMES)
STATION_WITH = (*STATION_C, FRAME_C, SETTINGS_C, CRC_C)
"""What they are linked with."""
STATION_MD = "STATION.md"
STATION_VECTORS_TEST_C = "plumbfall_station_vectors_test.c"
BLOCK_VECTORS_TEST_H = "plumbfall_block_vectors_test.h"
"""Included by the one above: what no vector says."""
DEVICE_TWIN_C = "device_twin.c"
LOG_MD = "LOG.md"
PROTOCOL_MD = "PROTOCOL.md"

EXAMPLE_C = tuple(f"example/{name}.c" for name in (
    "main", "memory", "radio", "sampling", "fake_flash", "fake_radio", "fake_sensor"))
EXAMPLE = (*(f"example/{name}.h" for name in ("board", "memory", "radio", "sampling", "fake")), *EXAMPLE_C)
"""A whole device, on a board that needs no hardware."""
LIBRARY_JSON, MODULE_YML = "library.json", "zephyr/module.yml"
BUILD_FILES = ("CMakeLists.txt", "plumbfall_sources.cmake", "plumbfall.mk", LIBRARY_JSON, MODULE_YML,
               "zephyr/CMakeLists.txt")
"""For those who build it: each names the same files."""


def source(name: str) -> bytes:
    """The content of one of them."""
    return files("detect.firmware").joinpath("c", *name.split("/")).read_bytes()


def lay(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write files by their names to their places below a folder; a name may have folders of its own."""
    for name, content in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


AROUND = (*AROUND_H, *AROUND_C, DEVICE_VECTORS_TEST_C, LOG_VECTORS_TEST_H, FRAME_VECTORS_TEST_H)
"""Copied as they are: log, alarm, link and frames, and their test program."""
STATION = (*STATION_H, *STATION_C, STATION_VECTORS_TEST_C, BLOCK_VECTORS_TEST_H)
FIRMWARE_C = (*RULE_C, *AROUND_C, *STATION_C, TAG[1], SIPHASH_C)
"""All that is built into firmware."""

LICENCE = "plumbfall_licence.txt"
"""The text that the first line of each of them names."""
MANIFEST = "plumbfall_manifest.txt"
"""SHA-256 and name of every other file, as `sha256sum --check` reads them: the last that is written."""

NAMES = (writer.NAME, device_header.NAME, *RULE_H, *RULE_C, detector.NAME, VECTORS_TEST_C, BUILD_MD, *AROUND, *TARGET,
         PROTOCOL_MD, LOG_MD, device_vectors.NAME, *STATION, *TAG, *SIPHASH, STATION_MD, station_vectors.NAME,
         *EXAMPLE, *BUILD_FILES, LICENCE, MANIFEST)
PARAMS_JSON = "plumbfall_params.json"
"""Beside them: the header's numbers for programs, and what they are worth. Its content comes from the study."""


def write_export(settings: Settings, front_end: FrontEnd, provenance: Provenance,
                 device: Values = UNCHANGED, params_json: bytes | None = None) -> dict[str, bytes]:
    """Every file of the folder by its name, PARAMS_JSON with this content among them where there is one; the same input
    gives the same bytes. plumbfall_device.h has the log and the alarm's life of this `device`.

    BadSetting where a setting has no integer that the detector's arithmetic can hold.
    """
    params = write_header(settings, front_end, provenance)
    around = write_device_header(device, front_end)
    rule = rule_of(settings, front_end)
    files = {
        writer.NAME: params.encode("ascii"),
        device_header.NAME: around.encode("ascii"),
        **{name: source(name) for name in (*RULE_H, *RULE_C)},
        detector.NAME: write_vectors(_parts(rule), settings_vectors(), stating(params, around)).encode("ascii"),
        VECTORS_TEST_C: source(VECTORS_TEST_C),
        BUILD_MD: _page(rule, front_end).encode("utf-8"),
        **{name: source(name) for name in (*AROUND, *TARGET)},
        PROTOCOL_MD: source(PROTOCOL_MD),
        LOG_MD: source(LOG_MD),
        device_vectors.NAME: device_vectors.write_device_vectors().encode("ascii"),
        **{name: source(name) for name in (*STATION, *TAG, *SIPHASH)},
        STATION_MD: _filled(STATION_MD, (("@PARAMETERS_BYTES@", str(PARAMETERS_BYTES)),
                                         ("@PIECES@", str(PIECES)))).encode("utf-8"),
        station_vectors.NAME: station_vectors.write_station_vectors().encode("ascii"),
        **{name: source(name) for name in (*EXAMPLE, *BUILD_FILES, LICENCE)},
    }
    if params_json is not None:
        files[PARAMS_JSON] = params_json
    listed = f"# {writer.SPDX}\n" + "".join(f"{digest}  {name}\n" for name, digest in digests(files).items())
    return {**files, MANIFEST: listed.encode("ascii")}


def digests(files: Mapping[str, bytes]) -> dict[str, str]:
    """SHA-256 of each file by its name."""
    return {name: hashlib.sha256(content).hexdigest() for name, content in files.items()}


@lru_cache(maxsize=1)
def _golden() -> tuple[RenderedPart, ...]:
    """The parts that are the same in every export; the reference needs seconds for them."""
    return tuple(rendered(part) for part in golden_parts())


@lru_cache(maxsize=1)
def settings_vectors() -> RenderedSettings:
    """Settings within their bounds and beyond, the same in every export."""
    rate, bits, range_mg, scale = VECTORS_FRONT_END.values()
    return RenderedSettings(f"{{ {rate}U, {range_mg}U, {scale}U, {bits}U }}",
                            tuple(case.row for case in settings_cases()), tuple(case.row for case in sensor_cases()))


def _parts(rule: Rule) -> tuple[RenderedPart, ...]:
    return (*_golden(), rendered(own_part(rule)))


def _page(rule: Rule, front_end: FrontEnd) -> str:
    parts = _parts(rule)
    largest = max(*(flash_bytes(part) for part in parts), settings_vectors().flash_bytes)
    scale = f"{front_end.k:.6g} counts per g"
    return _filled(BUILD_MD, (
        ("@FRONT_END@", f"a sensor of {front_end.rate_hz:g} samples a second, ±{front_end.range_g:g} g in "
                        f"{front_end.bits} bits, {scale}"),
        ("@BITS@", str(front_end.bits)),
        ("@RING_BYTES@", str(2 * ring_words(rule))),
        ("@SETTINGS_BYTES@", str(2 * len(FIELDS))),
        ("@PARTS@", str(len(parts) + 1)),
        ("@OWN@", str(len(parts))),
        ("@PART_KIB@", str(-(-largest // 1024))),
        ("@IDENTITY@", f"0x{identity(rule, front_end):08X}"),
    ))


def _filled(page: str, values: Iterable[tuple[str, str]]) -> str:
    """A page of the package with what is this export's own in place of its tokens."""
    text = source(page).decode("utf-8")
    for token, value in values:
        text = text.replace(token, value)
    return text
