"""Numbers of a sleeping device that can be meant but hardly are: each as a sentence with its reason."""

from __future__ import annotations

import math

from detect.device.part import ANALOGUE
from detect.device.values import Values
from detect.device.wake import FREE_FALL, NEVER, NO_BUFFER, PULSE, THRESHOLD, TIMER, depth_of
from detect.frontend import FrontEnd
from detect.rule import Rule

STANDARD_GRAVITY = 9.80665
"""m/s² (ISO 80000-3; 3rd CGPM, 1901)."""


def fall_ms(height_m: float) -> float:
    """How long a body falls freely from a height: 319.3 ms from 0.5 m, 451.6 ms from 1 m."""
    return 1000 * math.sqrt(2 * height_m / STANDARD_GRAVITY)


def doubts(values: Values, front_end: FrontEnd, rule: Rule) -> tuple[str, ...]:
    """A sentence for each contradiction between line, sleep, buffer and what the rule wants."""
    line = values.text("wake.line")
    if line == NEVER:
        return ()
    found = _of_time(line, values, front_end, rule) + _of_level(line, values, front_end)
    return tuple(found + _of_history(line, values, front_end, rule))


def _of_time(line: str, values: Values, front_end: FrontEnd, rule: Rule) -> list[str]:
    number, found = values.number, []
    height, waking = number("wake.fall_m"), number("wake.waking_ms")
    lasts = fall_ms(height)
    said = f"a fall from {height:g} m lasts {lasts:.0f} ms"
    asleep, wanted = number("wake.timer_asleep_ms"), number("wake.free_fall_ms")
    if line == TIMER and asleep >= lasts:
        found.append(f"Asleep for {asleep:g} ms: {said} and would be over.")
    if line == FREE_FALL and wanted >= lasts:
        found.append(f"The line wants {wanted:g} ms of free fall: {said} and never wakes the device.")
    elif line == FREE_FALL and rule.free_fall_on and values.text("wake.buffer") == NO_BUFFER:
        left, needed = lasts - wanted - waking, front_end.ms(rule.free_fall_run)
        if left < needed:
            found.append(f"{said.capitalize()}; after {wanted:g} ms for the line and {waking:g} ms to wake, "
                         f"{max(left, 0):.0f} ms are left, and the rule wants {needed:.0f} ms.")
    look = 1000 / number("wake.line_rate_hz")
    if line != TIMER and look >= lasts:
        found.append(f"Asleep, the part looks every {look:g} ms: {said} and would be over.")
    needs = front_end.ms(rule.impact_within + rule.settle + (rule.observe if rule.observes else 0))
    if line != TIMER and not values.on("wake.finishes") and number("wake.stay_ms") < needs:
        found.append(f"It sleeps {number('wake.stay_ms'):g} ms after the line, but the rule may take {needs:g} ms to "
                     "judge: attempts are judged early, on what there is.")
    return found


def _of_level(line: str, values: Values, front_end: FrontEnd) -> list[str]:
    number, found = values.number, []
    key = {THRESHOLD: "wake.threshold_g", PULSE: "wake.pulse_g"}.get(line, "")
    if key:
        level, top = number(key), front_end.g(2 ** (front_end.bits - 1) - 1)
        offset = number("wake.offset_mg") / 1000
        if level > top + offset:
            found.append(f"{level:g} g is above the range of ±{top:.3g} g: the line never speaks.")
        if level <= 1 + offset:
            found.append(f"An axis at rest reads up to 1 g and {offset * 1000:g} mg of offset: at {level:g} g the line "
                         "may speak all the time.")
    if line == FREE_FALL and number("wake.offset_mg") / 1000 >= number("wake.free_fall_g"):
        found.append(f"An offset of {number('wake.offset_mg'):g} mg alone keeps an axis above "
                     f"{number('wake.free_fall_g'):g} g: the line never speaks.")
    return found


def _of_history(line: str, values: Values, front_end: FrontEnd, rule: Rule) -> list[str]:
    before = max(rule.baseline if rule.tilt_on else 0, rule.busy_window if rule.busy_on else 0)
    if not before:
        return []
    wanted = front_end.ms(rule.guard + before)
    if values.text("wake.buffer") == NO_BUFFER:
        checks = " and ".join(name for name, on in (("tilt", rule.tilt_on), ("busy", rule.busy_on)) if on)
        return [f"A device that slept has no before: {checks} can't speak until it was awake for {wanted:g} ms, and "
                "passes."]
    if depth_of(values) == 0:
        return ["An analogue part keeps no samples: it has no buffer that could tell of before."
                if values.text("part.kind") == ANALOGUE else
                "The part's buffer holds no samples: nothing tells of before."]
    if values.number("wake.line_rate_hz") < front_end.rate_hz:
        return [f"Asleep the part takes {values.number('wake.line_rate_hz'):g} samples a second: what its buffer holds "
                f"is of no use to a rule at {front_end.rate_hz:g} Hz."]
    line_ms = values.number("wake.free_fall_ms") if line == FREE_FALL else 0
    held = front_end.ms(depth_of(values))
    if held < wanted + line_ms:
        return [f"The buffer holds {held:g} ms; a before wants {wanted:g} ms ahead of the low row, whose first "
                f"{line_ms:g} ms pass before the line speaks." if line_ms else
                f"The buffer holds {held:g} ms; a before wants {wanted:g} ms."]
    return []
