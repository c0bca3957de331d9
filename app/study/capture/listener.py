"""What a raw capture holds, piece by piece: each node's samples in order, greetings, happenings, clock echoes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from app.study.capture.messages import Batch, EchoReply, Greeting, Happening, Said, decoder_for
from app.study.capture.node_stream import NodeStream, Run
from app.study.capture.raw_file import CLOSED, OPENED, RECEIVED, SENT, Header, Piece

MOST_NODES = 16

SILENT_S = 3.0
"""A node that sent nothing for so long has stopped, or its batches are longer than any protocol of ours has them."""


@dataclass(frozen=True, eq=False)
class Heard:
    """`said`: a run of samples, or another message, with the host's time at which its last byte came."""

    host_us: int
    said: Run | Greeting | Happening | EchoReply


@dataclass
class Listener:
    """Turns pieces into what was heard. `nodes` beyond sixteen are not taken and counted in `crowd`."""

    header: Header
    nodes: dict[int, NodeStream] = field(default_factory=dict)
    crowd: set[int] = field(default_factory=set)
    connected: bool = False
    asked_us: dict[int, int] = field(default_factory=dict)
    """Host time of each clock echo that was sent, by its number."""

    def __post_init__(self) -> None:
        self._decoder = decoder_for(self.header.protocol, self.header.columns)
        self._requests = 0
        self._came_us: dict[int, int] = {}
        """When each node's last samples came."""

    @property
    def damaged(self) -> int:
        """Frames or lines that were not understood."""
        return self._decoder.damaged

    def request(self, number: int) -> bytes:
        """A request for the nodes' clocks; empty where the protocol has none."""
        return self._decoder.echo(number)

    def silent_s(self, node: int, now_us: float) -> float:
        """How long a node has sent nothing; 0 while that is no longer than usual. `now_us`: by the capture's clock."""
        seconds = (now_us - self._came_us.get(node, now_us)) / 1e6
        usual = SILENT_S * max(self.header.speed / 10, 1.0)  # a wait of the computer's is longer in a fast simulation
        return seconds if seconds > usual else 0.0

    def take(self, pieces: Iterable[Piece]) -> Iterator[Heard]:
        for piece in pieces:
            if piece.kind == RECEIVED:
                for said in self._decoder.take(piece.data):
                    yield from self._heard(piece.host_us, said)
            elif piece.kind == SENT:
                self.asked_us[self._requests] = piece.host_us
                self._requests += 1
            elif piece.kind in (OPENED, CLOSED):
                self.connected = piece.kind == OPENED
                self._decoder.reset()
                for stream in self.nodes.values():
                    stream.interrupted()

    def finish(self) -> Iterator[Heard]:
        """Nothing more comes: what was held back for samples that are missing."""
        for stream in self.nodes.values():
            for run in stream.finish():
                yield Heard(0, run)

    def _heard(self, host_us: int, said: Said) -> Iterator[Heard]:
        stream = self.nodes.get(said.node)
        if stream is None:
            if not isinstance(said, Batch | Greeting):
                return
            if len(self.nodes) >= MOST_NODES:
                self.crowd.add(said.node)
                return
            stream = self.nodes[said.node] = NodeStream(said.node, self.header.modulus)
        if isinstance(said, Batch):
            rate_hz = self.header.rate_hz or (stream.hello.rate_hz if stream.hello else 0.0)
            stream.silent((host_us - self._came_us.get(said.node, host_us)) / 1e6, rate_hz)
            self._came_us[said.node] = host_us
            runs = stream.take(said)
        elif isinstance(said, Greeting):
            runs = stream.greet(said.hello)
            yield Heard(host_us, said)
        else:
            runs = []
            yield Heard(host_us, said)
        for run in runs:
            yield Heard(host_us, run)
