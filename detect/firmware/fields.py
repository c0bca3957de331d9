"""One row for each integer of the rule as firmware knows it: header, vectors and twin are made of these.

The order is the order in the header and in the identity; the C struct `plf_settings` has the same members.
"""

from __future__ import annotations

from dataclasses import dataclass

from detect.rule import BOUNDS, COSINE_ONE, Rule
from detect.settings import BY_KEY, Settings, Unit

PREFILTERS = (1, 2, 4, 8, 16)


@dataclass(frozen=True)
class Field:
    """`macro` in plumbfall_params.h, `member` of `plf_settings`, `rule` in detect.rule.Rule.

    `key` is the row of the settings table it comes from, `axis` the component where that is a vector.
    """

    macro: str
    member: str
    rule: str
    key: str
    least: int
    most: int
    signed: bool = False
    axis: int | None = None

    @property
    def sentence(self) -> str:
        """What it is, in the words of the settings table."""
        return BY_KEY[self.key].sentence

    @property
    def unit(self) -> Unit:
        return BY_KEY[self.key].unit

    @property
    def first_of_its_setting(self) -> bool:
        """A vector has three fields, the band two."""
        return self.axis in (None, 0) and self.rule != "busy_high"

    @property
    def name(self) -> str:
        """The setting as the header's comments write it."""
        return self.key if self.axis is None else f"{self.key}.{'xyz'[self.axis]}"

    def integer(self, rule: Rule) -> int:
        value = getattr(rule, self.rule)
        return int(value if self.axis is None else value[self.axis])

    def asked(self, settings: Settings) -> object:
        """The value asked for, of a vector the component."""
        value = settings[self.key]
        return value if self.axis is None or not isinstance(value, tuple) else value[self.axis]


_BOUNDS = {field: (least, most) for field, _, least, most in BOUNDS}


def _number(member: str, rule: str, key: str) -> Field:
    least, most = _BOUNDS[rule]
    return Field(f"PLF_{member.upper()}", member, rule, key, least, most, signed=least < 0)


def _switch(member: str, rule: str, key: str) -> Field:
    return Field(f"PLF_{member.upper()}", member, rule, key, 0, 1)


def _axis(axis: int) -> Field:
    member = f"upright_{'xyz'[axis]}_counts"
    return Field(f"PLF_{member.upper()}", member, "upright", "upright", -COSINE_ONE, COSINE_ONE, True, axis)


FIELDS: tuple[Field, ...] = (
    Field("PLF_PREFILTER_SAMPLES", "prefilter_samples", "prefilter", "prefilter_samples", 1, 16),
    _switch("free_fall_on", "free_fall_on", "free_fall_on"),
    _switch("free_fall_every_axis", "every_axis", "free_fall_rule"),
    _number("free_fall_counts", "free_fall", "free_fall_g"),
    _number("free_fall_samples", "free_fall_run", "free_fall_ms"),
    _number("impact_counts", "impact", "impact_g"),
    _number("impact_within_samples", "impact_within", "impact_within_ms"),
    _number("settle_samples", "settle", "settle_ms"),
    _switch("restart_on", "restart_on", "restart_on"),
    _number("observe_samples", "observe", "observe_ms"),
    _switch("tilt_on", "tilt_on", "tilt_on"),
    _number("tilt_cosine_q14", "tilt_cosine", "tilt_deg"),
    _number("baseline_samples", "baseline", "baseline_ms"),
    _switch("reclined_on", "reclined_on", "reclined_on"),
    _number("reclined_cosine_q14", "reclined_cosine", "reclined_deg"),
    _axis(0),
    _axis(1),
    _axis(2),
    _switch("still_on", "still_on", "still_on"),
    _number("still_counts", "still", "still_g"),
    _number("guard_samples", "guard", "guard_ms"),
    _switch("busy_on", "busy_on", "busy_on"),
    _number("busy_low_counts", "busy_low", "busy_band_g"),
    _number("busy_high_counts", "busy_high", "busy_band_g"),
    _number("busy_window_samples", "busy_window", "busy_window_ms"),
    _number("busy_most_samples", "busy_most", "busy_share_pct"),
    _number("hold_off_samples", "hold_off", "hold_off_ms"),
)

BY_MACRO = {field.macro: field for field in FIELDS}


def ring_words(rule: Rule) -> int:
    """Words of 16 bits that the ring takes.

    Three for each sample of guard and baseline, one bit for each of guard and busy window, each as far as its
    check is on; at least one, for C has no empty arrays.
    """
    vectors = rule.guard + rule.baseline if rule.tilt_on else 0
    bits = rule.guard + rule.busy_window if rule.busy_on else 0
    return max(3 * vectors + (bits + 15) // 16, 1)
