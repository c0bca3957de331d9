"""Whether the samples fit on the line, before anything is started."""

from __future__ import annotations

from dataclasses import dataclass

from app.formatting import GAP, plural

BITS_A_BYTE = 10
"""On a serial line: a start bit, eight of data, a stop bit."""

WORTH_A_WARNING = 0.70

TEXT_BYTES = 30
"""A line of text: node, sequence, time, three axes, their commas, the end."""

SAMPLE_BYTES, MESSAGE_BYTES = 6, 17
"""Of a binary message: each sample, and what is around them (PROTOCOL.md)."""


@dataclass(frozen=True)
class Load:
    """`bytes_a_sample` × `nodes` × `rate_hz` against what the line carries; `line_bytes_s` None: not a serial line."""

    bytes_a_sample: float
    nodes: int
    rate_hz: float
    line_bytes_s: float | None

    @property
    def bytes_s(self) -> float:
        return self.bytes_a_sample * self.nodes * self.rate_hz

    @property
    def share(self) -> float | None:
        return None if self.line_bytes_s is None else self.bytes_s / self.line_bytes_s

    @property
    def too_close(self) -> bool:
        return self.share is not None and self.share > WORTH_A_WARNING

    def sentence(self) -> str:
        nodes = plural(self.nodes, "node")
        needs = (f"{nodes} × {self.rate_hz:g} Hz × {self.bytes_a_sample:.3g} bytes a sample: "
                 f"{self.bytes_s / 1000:.3g} kB/s")
        if self.share is None:
            return f"{needs}."
        said = f"{needs}, {100 * self.share:.0f}{GAP}% of the line's {(self.line_bytes_s or 0) / 1000:.3g} kB/s."
        if self.too_close:
            said += (" That is too close: above 70 % samples get lost at every retry. Choose a faster line, fewer "
                     "nodes, a lower rate, or binary messages in larger batches.")
        return said


def load(protocol: str, nodes: int, rate_hz: float, baud: int | None, batch: int = 10) -> Load:
    """`batch`: samples in one binary message. `baud` None: the line is not serial."""
    size = SAMPLE_BYTES + MESSAGE_BYTES / batch if protocol == "binary" else float(TEXT_BYTES)
    return Load(size, nodes, rate_hz, None if baud is None else baud / BITS_A_BYTE)
