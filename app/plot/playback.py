"""The playhead moving by itself, in the recording's time."""

from __future__ import annotations

from PySide6.QtCore import QElapsedTimer, QObject, Qt, QTimer, Signal

from app.plot.recorded import Recorded

SPEEDS = (1, 2, 4)
FRAME_MS = 16


class Playback(QObject):
    """Time runs on `speed` times as fast as the clock; gaps are leapt over; at the last sample it stops."""

    moved = Signal(int)
    turned = Signal(bool)
    """Began to play, or stopped."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.speed = SPEEDS[0]
        self._recorded: Recorded | None = None
        self._sample = 0
        self._anchor_s = 0.0
        self._clock = QElapsedTimer()
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(FRAME_MS)
        self._timer.timeout.connect(self._tick)

    @property
    def playing(self) -> bool:
        return self._timer.isActive()

    def start(self, recorded: Recorded, sample: int) -> None:
        """From a sample on; from the beginning where it is the last one."""
        self._recorded = recorded
        self._sample = 0 if sample >= len(recorded) - 1 else sample
        self._anchor()
        self._timer.start()
        self.turned.emit(True)
        if self._sample != sample:
            self.moved.emit(self._sample)

    def stop(self) -> None:
        if self.playing:
            self._timer.stop()
            self.turned.emit(False)

    def set_speed(self, speed: int) -> None:
        self.speed = speed
        if self.playing:
            self._anchor()

    def follow(self, sample: int) -> None:
        """The playhead was put elsewhere: go on from there."""
        if self.playing and sample != self._sample:
            self._sample = sample
            self._anchor()

    def _anchor(self) -> None:
        assert self._recorded is not None
        self._anchor_s = self._recorded.trace.seconds.seconds(self._sample)
        self._clock.start()

    def _tick(self) -> None:
        assert self._recorded is not None
        line = self._recorded.trace.seconds
        now = self._anchor_s + self._clock.elapsed() / 1000 * self.speed
        before, last = self._sample, len(self._recorded) - 1
        self._sample = min(max(line.at_or_before(now), before), last)
        if self._recorded.ended_s(self._sample) < now and self._sample < last:
            self._sample += 1
            self._anchor()
        if self._sample != before:
            self.moved.emit(self._sample)
        if self._sample == last:
            self.stop()
