"""The rule's integers: what the settings become on one front end, and the bounds its arithmetic needs."""

from __future__ import annotations

import math
from dataclasses import dataclass

from detect.frontend import FrontEnd
from detect.settings import BadSetting, Settings

COSINE_ONE = 1 << 14
"""1.0 in the fixed point of cosines; also the size to which vectors are doubled before their angle is judged."""

LARGEST_THRESHOLD = 56756
"""⌈√3·32768⌉: no magnitude of three int16 reaches it."""

LONGEST_WINDOW = 4096
LONGEST_WAIT = 65535


@dataclass(frozen=True)
class Rule:
    """Settings as integers: thresholds in counts, durations in samples. In brackets the page's letter."""

    prefilter: int  # L
    free_fall_on: bool
    every_axis: bool
    free_fall: int  # F, low is below
    free_fall_run: int  # Nf
    impact: int  # I, at least
    impact_within: int  # W
    settle: int  # S
    observe: int  # N
    restart_on: bool
    guard: int  # G
    busy_on: bool
    busy_low: int  # lo
    busy_high: int  # hi
    busy_window: int  # M
    busy_most: int  # m
    tilt_on: bool
    tilt_cosine: int  # C(θ)
    baseline: int  # B
    reclined_on: bool
    reclined_cosine: int  # C(φ)
    upright: tuple[int, int, int]  # u
    still_on: bool
    still: int  # r
    hold_off: int  # H

    @property
    def observes(self) -> bool:
        """Without a check that needs it, nothing is observed."""
        return self.tilt_on or self.reclined_on or self.still_on


# Field of Rule, the setting it comes from, least and most.
BOUNDS: tuple[tuple[str, str, int, int], ...] = (
    ("free_fall", "free_fall_g", 1, LARGEST_THRESHOLD),
    ("free_fall_run", "free_fall_ms", 1, LONGEST_WINDOW),
    ("impact", "impact_g", 1, LARGEST_THRESHOLD),
    ("impact_within", "impact_within_ms", 1, LONGEST_WAIT),
    ("settle", "settle_ms", 1, LONGEST_WINDOW),
    ("observe", "observe_ms", 1, LONGEST_WINDOW),
    ("guard", "guard_ms", 0, LONGEST_WINDOW),
    ("busy_low", "busy_band_g", 0, LARGEST_THRESHOLD),
    ("busy_high", "busy_band_g", 1, LARGEST_THRESHOLD),
    ("busy_window", "busy_window_ms", 1, LONGEST_WINDOW),
    ("busy_most", "busy_share_pct", 0, LONGEST_WINDOW),
    ("tilt_cosine", "tilt_deg", -COSINE_ONE, COSINE_ONE),
    ("baseline", "baseline_ms", 1, LONGEST_WINDOW),
    ("reclined_cosine", "reclined_deg", -COSINE_ONE, COSINE_ONE),
    ("still", "still_g", 1, LARGEST_THRESHOLD),
    ("hold_off", "hold_off_ms", 1, LONGEST_WAIT),
)


def cosine(degrees: float) -> int:
    """cos in the rule's fixed point."""
    return math.floor(math.cos(math.radians(degrees)) * COSINE_ONE + 0.5)


def rule_of(settings: Settings, front_end: FrontEnd) -> Rule:
    """The integers of these settings on this front end; BadSetting names what is out of bounds."""
    number, counts, samples = settings.number, front_end.counts, front_end.samples
    for key in ("tilt_deg", "reclined_deg"):
        _within(key, number(key), 0, 180, "°")
    _within("busy_share_pct", number("busy_share_pct"), 0, 100, "%")
    window = samples(number("busy_window_ms"))
    upright = settings["upright"]
    assert isinstance(upright, tuple)
    x, y, z = (front_end.clamped_counts(c) for c in upright)
    rule = Rule(
        prefilter=int(number("prefilter_samples")),
        free_fall_on=bool(settings["free_fall_on"]),
        every_axis=settings["free_fall_rule"] == "every_axis",
        free_fall=counts(number("free_fall_g")),
        free_fall_run=samples(number("free_fall_ms")),
        impact=counts(number("impact_g")),
        impact_within=samples(number("impact_within_ms")),
        settle=samples(number("settle_ms")),
        observe=samples(number("observe_ms")),
        restart_on=bool(settings["restart_on"]),
        guard=samples(number("guard_ms")),
        busy_on=bool(settings["busy_on"]),
        busy_low=max(counts(1 - number("busy_band_g")), 0),
        busy_high=counts(1 + number("busy_band_g")),
        busy_window=window,
        busy_most=math.floor(number("busy_share_pct") * window / 100 + 0.5),
        tilt_on=bool(settings["tilt_on"]),
        tilt_cosine=cosine(number("tilt_deg")),
        baseline=samples(number("baseline_ms")),
        reclined_on=bool(settings["reclined_on"]),
        reclined_cosine=cosine(number("reclined_deg")),
        upright=(x, y, z),
        still_on=bool(settings["still_on"]),
        still=counts(number("still_g")),
        hold_off=samples(number("hold_off_ms")),
    )
    _check(rule, settings)
    return rule


def low_stays_below_impact(rule: Rule) -> bool:
    """No sample may be both low and an impact."""
    if not rule.free_fall_on:
        return True
    if rule.every_axis:
        return 3 * (rule.free_fall - 1) ** 2 < rule.impact ** 2
    return rule.free_fall <= rule.impact


def _check(rule: Rule, settings: Settings) -> None:
    for field, key, least, most in BOUNDS:
        integer = getattr(rule, field)
        if not least <= integer <= most:
            raise BadSetting(key, settings[key], f"becomes {integer} on this front end, outside {least} … {most}.",
                             "Choose another value, or another range, width or rate.")
    if not any(rule.upright) or max(abs(c) for c in rule.upright) > COSINE_ONE:
        raise BadSetting("upright", settings["upright"],
                         f"becomes {rule.upright} counts; it must not be zero, nor beyond ±{COSINE_ONE}.",
                         "Write what the sensor reads on an upright wearer, about 1 g long.")
    if not low_stays_below_impact(rule):
        raise BadSetting("free_fall_g", settings["free_fall_g"],
                         f"would let a sample be free fall and impact at once (impact_g = {settings['impact_g']}).",
                         "Lower the free-fall threshold or raise the impact's.")


def _within(key: str, value: float, least: float, most: float, unit: str) -> None:
    if not least <= value <= most:
        raise BadSetting(key, value, f"is outside {least} … {most} {unit}.", "Choose a value inside.")
