"""The identity of one detector: a CRC-32 that header, vectors, records and the record of the sealed set carry.

Version 2 is over the parameters' bytes in the order of plumbfall_settings.h, so that the device computes it from what
it runs by. Version 1 was over a text, which no device could; headers, records and openings with one keep it.
"""

from __future__ import annotations

import hashlib
import math
import struct
import zlib
from collections.abc import Mapping, Sequence

from detect.firmware.header.fields import FIELDS, FIRST_NAMES
from detect.rule.front_end import FrontEnd
from detect.rule.integers import Rule
from detect.rule.settings import BadSetting

IDENTITY_VERSION = 2
FRONT_END_MACROS = ("PLF_RATE_MILLIHZ", "PLF_RESOLUTION_BITS", "PLF_RANGE_MG", "PLF_COUNTS_PER_1000_G")
_HEAD = struct.Struct("<HHIIIH")
PARAMETERS_BYTES = _HEAD.size + 2 * len(FIELDS)


def front_end_integers(front_end: FrontEnd) -> list[tuple[str, int]]:
    """The front end in integers, for people and for the identity; the detector itself needs none of them."""
    values = (front_end.rate_hz * 1000, front_end.bits, front_end.range_g * 1000, front_end.k * 1000)
    rows = []
    for key, macro, value in zip(("rate_hz", "bits", "range_g", "counts_per_g"), FRONT_END_MACROS, values,
                                 strict=True):
        integer = math.floor(value + 0.5)
        if not 1 <= integer <= 0xFFFFFFFF:
            raise BadSetting(key, getattr(front_end, key),
                             f"becomes {macro} = {integer}, outside 1 ... 4294967295.",
                             "Choose a sensor whose integers are within.")
        rows.append((macro, integer))
    return rows


def parameters_bytes(front_end: Mapping[str, int], numbers: Sequence[int]) -> bytes:
    """All parameters as plf_parameters_write has them: the front end by its macros, an integer for each of FIELDS."""
    rate, bits, range_mg, scale = (front_end[macro] for macro in FRONT_END_MACROS)
    head = _HEAD.pack(IDENTITY_VERSION, PARAMETERS_BYTES, rate, range_mg, scale, bits)
    return head + b"".join(struct.pack("<H", number % 2**16) for number in numbers)


def identity_of(front_end: Mapping[str, int], numbers: Sequence[int]) -> int:
    """CRC-32 (the one of zlib, check value CBF43926) of those bytes."""
    return zlib.crc32(parameters_bytes(front_end, numbers))


def identity(rule: Rule, front_end: FrontEnd) -> int:
    """What records and reports of a device with these integers carry."""
    return identity_of(dict(front_end_integers(front_end)), [field.integer(rule) for field in FIELDS])


def canonical(rule: Rule, front_end: FrontEnd) -> str:
    """The text behind identities of version 1, and behind the SHA-256 of an opening.

    A first line that names its version, then MACRO=integer a line, each macro by its first name: the front end, then
    the rule's fields in the header's order. Requested values are not in it: one detector, one identity.
    """
    rows = [*front_end_integers(front_end), *((f.macro, f.integer(rule)) for f in FIELDS)]
    return "plumbfall settings 1\n" + "".join(f"{FIRST_NAMES.get(macro, macro)}={value}\n" for macro, value in rows)


def identity_1(rule: Rule, front_end: FrontEnd) -> int:
    """The identity as it was in version 1: CRC-32 of the canonical text in ASCII."""
    return zlib.crc32(canonical(rule, front_end).encode("ascii"))


def settings_sha256(rule: Rule, front_end: FrontEnd) -> str:
    """The same detector gives the same, whatever the version of the identity beside it."""
    return hashlib.sha256(canonical(rule, front_end).encode("ascii")).hexdigest()
