"""From the impact, not from the alarm, until a station knows: what a person on the floor waits for."""

from __future__ import annotations

from dataclasses import dataclass

from detect.device.energy.bus import samples_a_read
from detect.device.quantities import Values
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import BadSetting, Settings


@dataclass(frozen=True)
class Response:
    """Seconds that follow each other: settling and observing, the wait until the processor has the samples, the time to
    cancel, the answer of a station in reach."""

    judged_s: float
    waits_s: float
    cancel_s: float
    answer_s: float

    @property
    def whole_s(self) -> float:
        return self.judged_s + self.waits_s + self.cancel_s + self.answer_s


def response(values: Values, front_end: FrontEnd, settings: Settings,
             later_ms: float | None = None) -> Response | None:
    """None where the rule can't run on the sensor. `later_ms`: of a device that sleeps how much later than the sample
    that decides it knows, its buffer waited for; of one that never sleeps the wait is that of its buffer's watermark.
    """
    try:
        rule = rule_of(settings, front_end)
    except BadSetting:
        return None
    judged = rule.settle + (rule.observe if rule.observes else 0)
    waits_s = (samples_a_read(values) - 1) / front_end.rate_hz if later_ms is None else later_ms / 1000
    return Response(front_end.ms(judged) / 1000, waits_s, values.number("life.cancel_s"),
                    values.number("life.answer_s"))


def response_s(values: Values, front_end: FrontEnd, settings: Settings, later_ms: float | None = None) -> float | None:
    """The whole of it."""
    found = response(values, front_end, settings, later_ms)
    return None if found is None else found.whole_s
