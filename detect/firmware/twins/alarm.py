"""The life of an alarm, from the detector's decision to the station's acknowledgement: the twin of plumbfall_alarm.c.

One step takes one input and makes one transition at most. LOG.md has the table of them; a test holds table, C and this
together.
"""

from __future__ import annotations

from dataclasses import dataclass

STAGES = ("armed", "warning", "sent", "undelivered", "resting")  # enum plf_alarm_stage
INPUTS = ("time", "fall", "cancel", "acknowledge", "rearm")  # enum plf_alarm_input
# enum plf_alarm_action
ACTIONS = ("nothing", "warn", "send", "cancel", "report_undelivered", "report_delivered", "arm")
_WRAP = 2**32


@dataclass(frozen=True)
class AlarmSettings:
    """Times in ms, as plf_alarm_settings has them. `cancel_ms` 0: sent at once."""

    cancel_ms: int = 15_000
    resend_ms: int = 5_000
    sends: int = 6
    slow_ms: int = 60_000
    rest_ms: int = 10_000


class Alarm:
    """The device's side of an alarm's life."""

    def __init__(self, settings: AlarmSettings) -> None:
        self.settings = settings
        self.stage = "armed"
        self.number = self.since = self.sends = self.suppressed = 0
        self.withdrawn = False

    def step(self, now_ms: int, what: str = "time", number: int = 0) -> str:
        """What the input asks the device to do: one of ACTIONS."""
        if what == "fall" and self.stage != "armed":
            self.suppressed += 1
        passed = (now_ms - self.since) % _WRAP
        if self.stage == "armed":
            return self._armed(now_ms, what, number)
        if self.stage == "warning":
            if what == "cancel":
                return self._go("resting", now_ms, "cancel")
            return self._send(now_ms) if passed >= self.settings.cancel_ms else "nothing"
        if self.stage in ("sent", "undelivered"):
            return self._sent(now_ms, what, number, passed)
        if what == "rearm" or passed >= self.settings.rest_ms:
            return self._go("armed", now_ms, "arm")
        return "nothing"

    def due_ms(self) -> int | None:
        """So long after `since` time alone moves it on; None while armed."""
        s = self.settings
        due = {"warning": s.cancel_ms, "sent": s.resend_ms, "undelivered": s.slow_ms, "resting": s.rest_ms}
        return due.get(self.stage)

    def _armed(self, now_ms: int, what: str, number: int) -> str:
        if what != "fall":
            return "nothing"
        self.number, self.sends, self.withdrawn = number, 0, False
        return self._go("warning", now_ms, "warn") if self.settings.cancel_ms > 0 else self._send(now_ms)

    def _sent(self, now_ms: int, what: str, number: int, passed: int) -> str:
        if what == "acknowledge" and number == self.number:
            return self._go("resting", now_ms, "report_delivered")
        if what == "cancel":
            if self.withdrawn:
                return "nothing"
            self.withdrawn = True
            return self._send(now_ms)
        if passed < (self.settings.slow_ms if self.stage == "undelivered" else self.settings.resend_ms):
            return "nothing"
        if self.stage == "sent" and self.sends >= self.settings.sends:
            self._send(now_ms)
            return self._go("undelivered", now_ms, "report_undelivered")
        return self._send(now_ms)

    def _send(self, now_ms: int) -> str:
        self.sends += 1
        return self._go("undelivered" if self.stage == "undelivered" else "sent", now_ms, "send")

    def _go(self, stage: str, now_ms: int, action: str) -> str:
        self.stage, self.since = stage, now_ms % _WRAP
        return action
