"""The bus between sensor and processor, how long samples wait in the buffer, and the radio to the receiver."""

from __future__ import annotations

from dataclasses import dataclass

from detect.device.part.part import ANALOGUE
from detect.device.quantities import Values, rows_of

I2C_STANDARD, I2C_FAST, SPI = "I²C standard", "I²C fast", "SPI"
I2C_KHZ = {I2C_STANDARD: 100.0, I2C_FAST: 400.0}
"""Clocks of the two modes (I²C-bus specification)."""

ALARMS, EVERY_SAMPLE = "alarms", "every sample"
FROM_STUDY, TYPED = "the study", "as typed"


QUANTITIES = (*rows_of("bus", {"bus.kind": (I2C_STANDARD, I2C_FAST, SPI)}),
              *rows_of("radio", {"radio.sends": (ALARMS, EVERY_SAMPLE), "radio.alarms_from": (FROM_STUDY, TYPED)}))


def read_bits(kind: str, data_bytes: float) -> float:
    """Bit times of one burst read.

    I²C, by its bus specification: start, address, register, repeated start, address, the data, stop; a byte is nine bit
    times with its acknowledgement. SPI: a command of eight bits, then eight a byte, without the select line's set-up.
    """
    return 8 * (1 + data_bytes) if kind == SPI else 1 + 9 + 9 + 1 + 9 * (1 + data_bytes) + 1


def clock_hz(values: Values) -> float:
    kind = values.text("bus.kind")
    return 1000 * (values.number("bus.spi_clock_khz") if kind == SPI else I2C_KHZ[kind])


@dataclass(frozen=True)
class BusLoad:
    """One read: its bit times and seconds. `sample_us`: what of it falls on a sample. `share` of the bus at the rate
    asked for, `highest_hz` what it could bear. `latency_ms`: how long the oldest sample of a read has waited."""

    bits: float
    read_us: float
    sample_us: float
    share: float
    highest_hz: float
    latency_ms: float


def bus_load(values: Values, samples_per_s: float, rate_hz: float) -> BusLoad:
    """The buffer is read at its watermark; an analogue part is converted sample by sample, without a bit on a bus.
    `samples_per_s`: how many samples are read in the mean; `rate_hz`: how fast they come while they come.
    """
    if values.text("part.kind") == ANALOGUE:
        burst, bits, read_s = 1.0, 0.0, values.number("bus.convert_us") / 1e6
    else:
        burst = samples_a_read(values)
        bits = read_bits(values.text("bus.kind"), burst * values.number("bus.sample_bytes"))
        read_s = bits / clock_hz(values)
    return BusLoad(bits, 1e6 * read_s, 1e6 * read_s / burst, samples_per_s * read_s / burst, burst / read_s,
                   1000 * ((burst - 1) / rate_hz + read_s))


def samples_a_read(values: Values) -> float:
    """The watermark of a part's buffer; an analogue part has none."""
    return 1.0 if values.text("part.kind") == ANALOGUE else values.number("wake.watermark_samples")


def lines_ua(values: Values, supply_v: float) -> float:
    """What is drawn while samples are read: by two pull-ups, each low for half of the time; by SPI; by a converter."""
    if values.text("part.kind") == ANALOGUE:
        return values.number("bus.converter_ua")
    if values.text("bus.kind") == SPI:
        return values.number("bus.spi_ua")
    return 1000 * supply_v / values.number("bus.pull_up_kohm")


@dataclass(frozen=True)
class RadioLoad:
    """Of a node that sends every sample: samples a packet, packets a second, time in the air of one. `nodes`: how many
    such nodes one receiver bears, a slot for each packet. `slots`: the share of its time that the nodes asked for
    need. `exchange_ms`: a packet with turnaround and the link's answer."""

    packet_samples: int
    packets_per_s: float
    air_ms: float
    exchange_ms: float
    nodes: int
    slots: float


def radio_load(values: Values, rate_hz: float) -> RadioLoad:
    samples = int(values.number("radio.payload_bytes") // values.number("bus.sample_bytes"))
    packets = rate_hz / max(samples, 1)
    air_ms = frame_ms(values, values.number("radio.payload_bytes"))
    slot = packets * values.number("radio.slot_ms") / 1000
    nodes = int((1 + 1e-12) / slot) if samples else 0
    return RadioLoad(samples, packets, air_ms, air_ms + values.number("radio.turnaround_ms") + answer_ms(values), nodes,
                     values.number("radio.nodes") * slot)


def frame_ms(values: Values, payload_bytes: float) -> float:
    """A frame in the air."""
    return 8 * (payload_bytes + values.number("radio.overhead_bytes")) / values.number("radio.bit_rate_kbps")


def answer_ms(values: Values) -> float:
    """The link's answer in the air."""
    return 8 * values.number("radio.answer_bytes") / values.number("radio.bit_rate_kbps")


def send_mams(values: Values, payload_bytes: float | None = None) -> float:
    """Charge of one send in mA·ms: start-up, frame, turnaround, the link's answer. Of a message unless said."""
    number = values.number
    frame = frame_ms(values, number("radio.message_bytes") if payload_bytes is None else payload_bytes)
    listening = number("radio.startup_ms") + number("radio.turnaround_ms") + answer_ms(values)
    return frame * number("radio.on_ma") + listening * number("radio.receive_ma")
