"""Waking: the rule on a device that sleeps until its part's line, against one that never does."""

from __future__ import annotations

from app.panels.device.try_section import TrySection
from app.panels.rows import Column, Row, RowsTable
from app.study.device.waking import EventLine, WakingView
from detect.device import digital
from detect.device.wake import QUANTITIES

BY_KEY = {row.key.removeprefix("wake."): row for row in QUANTITIES}
BUFFER = "digital.buffer"
_PARTS = (
    ("What wakes it", ("line", "free_fall_g", "free_fall_ms", "threshold_g", "threshold_ms", "pulse_g", "pulse_ms",
                       "pulse_quiet_ms", "timer_asleep_ms", "timer_awake_ms", "line_rate_hz", "offset_mg")),
    ("Waking and falling asleep", ("waking_ms", "stay_ms", "finishes", "watermark_samples")),
    ("What it knows of before", ("buffer", BUFFER)),
    ("What it must not sleep through", ("fall_m",)))
BY_KEY[BUFFER] = next(row for row in digital.QUANTITIES if row.key == BUFFER)
PARTS = tuple((title, tuple(BY_KEY[name] for name in names)) for title, names in _PARTS)

FIGURES, CHANGED, MISSES = "Figures", "Events", "Line misses"
COLUMNS = (Column("", 134), Column("always on", 150, number=True), Column("woken", 140, number=True, strong=True))
OF_EVENTS = (Column("recording", 112), Column("event", 46), Column("always on", 70), Column("woken", 66),
             Column("why", 130))
OF_MISSES = (Column("recording", 112), Column("event", 46), Column("at", 48, number=True), Column("why", 200))
NOT_RUN = "Feeds the rule only what the device would be awake for: Run."


class WakingSection(TrySection):
    def __init__(self) -> None:
        self.figures = RowsTable("Always on and woken", COLUMNS)
        self.changed = RowsTable("Events that come out otherwise", OF_EVENTS)
        self.misses = RowsTable("Events that the magnitude finds low and the line does not", OF_MISSES)
        super().__init__("Waking", PARTS, ((FIGURES, self.figures), (CHANGED, self.changed), (MISSES, self.misses)),
                         NOT_RUN)
        for table in (self.changed, self.misses):
            table.row_chosen.connect(lambda line: self.event_chosen.emit(line.recording, line.sample))
        self.view: WakingView | None = None

    def show_view(self, view: WakingView | None) -> None:
        """What came of a run; None while there is nothing."""
        self.view = view
        self.figures.show_rows([] if view is None else [Row(texts, texts[0]) for texts in view.rows])
        self.changed.show_rows([] if view is None else [
            Row((one.recording, one.event, one.was, one.now, one.why), one, _tip(one)) for one in view.changed])
        self.misses.show_rows([] if view is None else [
            Row((one.recording, one.event, f"{one.at_s:.1f} s", one.why), one, _tip(one)) for one in view.missed])
        self.buttons[CHANGED].setText(CHANGED if view is None else f"{CHANGED} {len(view.changed)}")
        self.buttons[MISSES].setText(MISSES if view is None else f"{MISSES} {len(view.missed)}")
        self.show_headline("" if view is None else view.headline)


def _tip(one: EventLine) -> str:
    became = f" {one.was}, woken {one.now}:" if one.was else ""
    return f"{one.recording}, {one.event} at {one.at_s:.2f} s:{became} {one.why}. Click to see it."
