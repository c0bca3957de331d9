"""What is seen of a capture while it runs: each node's samples, losses and stage, read from the growing raw file."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from app.study.capture.listener import Heard, Listener
from app.study.capture.live_rule import LiveRule, NodeScale
from app.study.capture.messages import EchoReply, Happening
from app.study.capture.node_stream import Run
from app.study.capture.raw_file import RECEIVED, RawReader
from app.study.capture.recordings import front_end_of
from detect.rule.attempt import Attempt
from detect.rule.front_end import FrontEnd
from detect.rule.integers import rule_of
from detect.rule.settings import BadSetting, Settings


@dataclass(frozen=True)
class NodeStatus:
    """`stage`: of the rule, or "no rule" where the settings have no integers for this node. `preview`: what is seen is
    not what a later score gives, and why; empty where it is. `battery_mv`: None where it was not said."""

    node: int
    received: int
    lost: int
    duplicates: int
    stage: str
    alarms: int
    clipped: int
    preview: str
    battery_mv: int | None
    serial_number: int | None
    conflict: bool
    latency_ms: float | None = None
    """From a sample to its stage: the wait for its message's last sample, the line where echoes have told, and what
    came after. None where nothing came yet."""
    line_known: bool = False
    """Whether the line's own delay is in that."""
    silent_s: float = 0.0
    """How long nothing came of it; 0 while that is no longer than usual."""

    @property
    def share_lost(self) -> float:
        return self.lost / max(self.received + self.lost, 1)


@dataclass
class _Node:
    scale: NodeScale
    front_end: FrontEnd
    rule: LiveRule | None
    clipped: int = 0
    battery_mv: int | None = None
    alarms: int = 0
    last: deque[np.ndarray] = field(default_factory=deque)
    """The counts of the last seconds, run by run."""
    last_samples: int = 0
    came_us: int = 0
    """When its newest samples came, by the capture's clock."""
    batch: int = 1
    """How many these were."""
    round_trip_us: float | None = None
    """The shortest that an echo took."""
    fresh: bool = False
    after_ms: float = 0.0
    """From their coming to their stage."""

    def latency_ms(self) -> float | None:
        if not self.came_us:
            return None
        waited = 1000 * (self.batch - 1) / self.scale.rate_hz if self.scale.rate_hz else 0.0
        return waited + (self.round_trip_us or 0.0) / 2000 + self.after_ms

    def keep(self, counts: np.ndarray, gap: bool) -> None:
        if gap:
            self.last.clear()
            self.last_samples = 0
        self.last.append(counts)
        self.last_samples += len(counts)
        while self.last and self.last_samples - len(self.last[0]) >= KEPT_S * self.scale.rate_hz:
            self.last_samples -= len(self.last.popleft())


KEPT_S = 4.0
TAIL_BYTES = 2000
OnRun = Callable[[int, Run, np.ndarray], None]
OnAttempt = Callable[[int, Attempt], None]
OnButton = Callable[[int, int], None]


@dataclass
class Monitor:
    """`look` reads what is new. `front_end`: the study's, None where it takes the first node's.

    `on_run` is told node, run and its counts; `on_attempt` node and attempt; `on_button` node and the capture's time,
    in µs, of a button that was pressed.
    """

    raw: RawReader
    settings: Settings
    front_end: FrontEnd | None
    on_run: OnRun | None = None
    on_attempt: OnAttempt | None = None
    on_button: OnButton | None = None
    _nodes: dict[int, _Node] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.listener = Listener(self.raw.header)
        self.host_us = 0
        """When the newest piece came."""
        self.received_bytes = 0
        self.tail = b""
        """The last bytes that came, for a preview of how they are read."""
        self._over = False
        self._asked = 0
        self._moved = False

    def look(self, most_bytes: int = 1 << 22) -> int:
        """Take what came since; how many pieces that were."""
        pieces = self.raw.take(most_bytes)
        for heard in self.listener.take(pieces):
            self._take(heard)
        for piece in pieces:
            if piece.kind == RECEIVED:
                self.received_bytes += len(piece.data)
                self.tail = (self.tail + piece.data)[-TAIL_BYTES:]
        if pieces:
            self.host_us = pieces[-1].host_us
            if not self._over:
                self._time(time.time())
        return len(pieces)

    def delay_s(self, now_s: float) -> float:
        """Seconds between the arrival of the newest piece and `now_s`, seconds since 1970."""
        header = self.raw.header
        return max(now_s - header.began_s - self.host_us / 1e6 / header.speed, 0.0)

    def _time(self, now_s: float) -> None:
        """How long each node's newest samples took to their stage, now that they have it."""
        header = self.raw.header
        now_us = (now_s - header.began_s) * header.speed * 1e6
        for node in self._nodes.values():
            if node.fresh:
                node.after_ms = max(now_us - node.came_us, 0.0) / 1000 / header.speed
                node.fresh = False

    def finish(self) -> None:
        """The capture is over: what was held back, and what is open."""
        self._over = True
        while self.look():
            pass
        for heard in self.listener.finish():
            self._take(heard)
        for number, node in self._nodes.items():
            if node.rule is not None:
                self._ended(number, node, node.rule.finish())

    def request(self) -> bytes:
        """The next request for the nodes' clocks; empty where the protocol has none."""
        self._asked += 1
        return self.listener.request(self._asked - 1)

    def close(self) -> None:
        self.raw.close()

    def _take(self, heard: Heard) -> None:
        said = heard.said
        if isinstance(said, Happening) and said.what == "battery" and said.node in self._nodes:
            self._nodes[said.node].battery_mv = said.value
        if isinstance(said, Happening) and said.what == "button" and said.value and self.on_button is not None:
            self.on_button(said.node, heard.host_us)
        if isinstance(said, EchoReply) and said.node in self._nodes and said.number in self.listener.asked_us:
            took = (heard.host_us - self.listener.asked_us[said.number]) / self.raw.header.speed
            known = self._nodes[said.node].round_trip_us
            self._nodes[said.node].round_trip_us = took if known is None else min(known, took)
        if not isinstance(said, Run):
            return
        node = self._nodes.get(said.node)
        if node is None:
            node = self._nodes[said.node] = self._new(said.node)
        counts = node.scale.counts(said.samples, node.front_end)
        top = 2 ** (node.front_end.bits - 1)
        node.clipped += int(np.count_nonzero((counts <= -top) | (counts >= top - 1)))
        node.keep(counts, said.gap)
        if heard.host_us:
            node.came_us, node.batch, node.fresh = heard.host_us, len(said.samples), True
        if node.rule is not None:
            self._ended(said.node, node, node.rule.take(said, counts))
        if self.on_run is not None:
            self.on_run(said.node, said, counts)

    def _ended(self, number: int, node: _Node, attempts: list[Attempt]) -> None:
        node.alarms += sum(attempt.ended == "alarm" for attempt in attempts)
        if self.on_attempt is not None:
            for attempt in attempts:
                self.on_attempt(number, attempt)

    def _new(self, number: int) -> _Node:
        hello = self.listener.nodes[number].hello
        front_end = self.front_end or (front_end_of(hello) if hello is not None else None) or FrontEnd()
        self.front_end = front_end
        header = self.raw.header
        scale = NodeScale.of(header.unit, header.rate_hz, hello, front_end)
        try:
            rule = LiveRule(rule_of(self.settings, front_end))
        except BadSetting:
            rule = None
        return _Node(scale, front_end, rule)

    def set_settings(self, settings: Settings) -> None:
        """Other settings from the next sample on: what is open is forgotten, as the device would."""
        self.settings = settings
        for node in self._nodes.values():
            try:
                node.rule = LiveRule(rule_of(settings, node.front_end))
            except BadSetting:
                node.rule = None
        self._moved = True

    def last_g(self, number: int) -> np.ndarray:
        """(n, 3) a node's last seconds in g, since the last gap."""
        node = self._nodes[number]
        return np.concatenate(list(node.last)) / node.front_end.k if node.last else np.zeros((0, 3))

    def rate_hz(self, number: int) -> float:
        return self._nodes[number].scale.rate_hz

    def stage(self, number: int) -> str:
        """The rule's stage at a node, "watch" without a rule."""
        node = self._nodes.get(number)
        return "watch" if node is None or node.rule is None else node.rule.stage

    def status(self) -> list[NodeStatus]:
        found, now_us = [], self._now_us()
        for number in sorted(self._nodes):
            node, stream = self._nodes[number], self.listener.nodes[number]
            losses = stream.losses
            found.append(NodeStatus(
                number, losses.received, losses.lost, losses.duplicates,
                "no rule" if node.rule is None else node.rule.stage, node.alarms, node.clipped, self._preview(node),
                node.battery_mv, stream.hello.serial_number if stream.hello else None, stream.conflict,
                node.latency_ms(), node.round_trip_us is not None,
                self.listener.silent_s(number, now_us)))
        return found

    def _now_us(self) -> float:
        """By the capture's clock; when it is over, its end."""
        if self._over or not self.host_us:
            return self.host_us
        return self.host_us + 1e6 * self.raw.header.speed * self.delay_s(time.time())

    def _preview(self, node: _Node) -> str:
        if not node.scale.exact(node.front_end):
            return "preview: not in the study's own counts and rate"
        return "preview: the settings were changed while it ran" if self._moved else ""
