"""What the vectors state of the header that they are for, and whether the one beside them is that one.

Integers are compared by the preprocessor, texts by the vectors' program, and all of them by `plumbfall check`.
"""

from __future__ import annotations

import re
import struct

from detect.firmware.header.device import DEVICE_CRC, device_crc
from detect.firmware.header.device import NAME as DEVICE
from detect.firmware.header.fields import FIELDS
from detect.firmware.header.identity import FRONT_END_MACROS, IDENTITY_VERSION, identity_of
from detect.firmware.header.lines import DIGESTS, IDENTITY, MACROS, Parsed, parse, stated_in, value_of
from detect.firmware.header.reader import version_of
from detect.firmware.header.writer import NAME
from detect.firmware.vectors import detector

_INTEGER = re.compile(r"^#if !defined (?P<macro>PLF_\w+) \|\| (?P=macro) != (?P<value>\S+)$", re.M)
_DEVICE = re.compile(r"^#define (?P<macro>PLF_\w+) +(?P<value>[-\w()]+)(?: +/\*.*)?$", re.M)
_STATED = "PLF_VECTORS_"
_TEXT = re.compile(rf'^#define {_STATED}(?P<macro>\w+_SHA256) "(?P<value>\w+)"$', re.M)


def stating(header: str, device: str) -> list[str]:
    """The lines of plumbfall_vectors.h on the two exported headers of numbers."""
    lines = ["/* The numbers that these vectors are for: another stops the compiler, another digest fails. */"]
    for macro, value in (*stated_in(header).items(), *device_defines(device).items()):
        if value.startswith('"'):
            lines.append(f"#define {_STATED}{macro.removeprefix('PLF_')} {value}")
        else:
            lines += [f"#if !defined {macro} || {macro} != {value}",
                      f'#error "{macro} is not {value}, as {detector.NAME} has it"', "#endif"]
    return lines


def differences(header: str, device: str, vectors: str) -> tuple[str, ...]:
    """What in the headers is not as their vectors state it, or not the identity of its own integers, in sentences."""
    parsed = parse(header)
    if version_of(parsed.defines) != IDENTITY_VERSION:
        version = version_of(parsed.defines)
        return (f"{NAME} has an identity of version {version}; this program compares those of version "
                f"{IDENTITY_VERSION}. Export again.",)
    return (*_unlike_the_vectors(parsed, vectors), *_unlike_itself(parsed), *_device_unlike(device, vectors))


def _unlike_the_vectors(parsed: Parsed, vectors: str) -> list[str]:
    stated = {match["macro"]: value_of(match["value"]) for match in _INTEGER.finditer(vectors)
              if match["macro"] in MACROS}
    texts = {f"PLF_{match['macro']}": match["value"] for match in _TEXT.finditer(vectors)}
    if not stated or set(texts) != set(DIGESTS):
        return [f"{detector.NAME} does not state which header it is for. Export again."]
    found = [f"{NAME}: {macro} is {_shown(macro, define.value)}; the vectors are for {_shown(macro, stated[macro])}."
             for macro, define in parsed.defines.items() if macro in stated and define.value != stated[macro]]
    found += [f"{NAME}: {macro} is not in it." for macro in stated if macro not in parsed.defines]
    found += [f"{NAME}: {macro} is not in {detector.NAME}." for macro in parsed.defines if macro not in stated]
    found += [f"{NAME}: {macro} is {parsed.digests.get(macro, 'not in it')}; the vectors are for {text}."
              for macro, text in texts.items() if parsed.digests.get(macro) != text]
    return found


def _unlike_itself(parsed: Parsed) -> list[str]:
    """The identity computed anew from the integers beside it, as the device computes it."""
    defines = parsed.defines
    if any(macro not in defines for macro in (*FRONT_END_MACROS, *(field.macro for field in FIELDS), IDENTITY)):
        return []  # which the lines above say
    front_end = {macro: defines[macro].value for macro in FRONT_END_MACROS}
    numbers = [defines[field.macro].value for field in FIELDS]
    try:
        right = identity_of(front_end, numbers)
    except struct.error:
        return [f"{NAME}: a number of the sensor is beyond what the identity's bytes hold."]
    stated = defines[IDENTITY].value
    return [] if stated == right else [
        f"{NAME}: {IDENTITY} is {_shown(IDENTITY, stated)}, but the identity of its integers is "
        f"{_shown(IDENTITY, right)}: the header was edited, and the score in it is not theirs."]


def device_defines(device: str) -> dict[str, str]:
    """The defines of plumbfall_device.h that carry an integer, as text."""
    return {match["macro"]: match["value"] for match in _DEVICE.finditer(device)}


def _device_unlike(device: str, vectors: str) -> list[str]:
    stated = {match["macro"]: value_of(match["value"]) for match in _INTEGER.finditer(vectors)
              if match["macro"] not in MACROS}
    found = {macro: value_of(text) for macro, text in device_defines(device).items()}
    said = [f"{DEVICE}: {macro} is {found.get(macro, 'not in it')}; the vectors are for {value}."
            for macro, value in stated.items() if found.get(macro) != value]
    said += [f"{DEVICE}: {macro} is not in {detector.NAME}." for macro in found if macro not in stated]
    right = device_crc(found)
    if found.get(DEVICE_CRC) != right:
        said.append(f"{DEVICE}: the CRC-32 of its numbers is 0x{right:08X}: it was edited.")
    return said


def _shown(macro: str, value: int) -> str:
    return f"0x{value:08X}" if macro == IDENTITY else str(value)


