"""One packet of a sensor: from its bytes to samples. No I/O, no memory of earlier packets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from musclewood.signal.sensors.description import SAMPLE_BYTES, PacketLayout
from musclewood.signal.stream.blocks import Samples
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Packet:
    """counter: as sent, not unwrapped; None where the layout has none. samples_uv: shape (n, channels), n may be 0."""

    counter: int | None
    samples_uv: Samples


def decode(layout: PacketLayout, payload: bytes) -> Packet | None:
    """Read one packet; None if it is not whole.

    A packet of the wrong length, or with a sample that is no finite number, is refused altogether: half of what a
    sensor sent cannot be told from something that it never sent.
    """
    body = payload[layout.samples_at_byte :]
    if len(payload) < layout.samples_at_byte or len(body) % layout.frame_bytes:
        return None
    frames = len(body) // layout.frame_bytes
    if layout.samples_per_packet is not None and frames != layout.samples_per_packet:
        return None
    counts = _numbers(body, layout)
    if layout.interleaved:
        counts = counts.reshape(frames, layout.channels)
    else:
        counts = counts.reshape(layout.channels, frames).T
    samples_uv = (counts - np.asarray(layout.zero_count)) * np.asarray(layout.uv_per_count)
    if not np.isfinite(samples_uv).all():
        return None
    return Packet(_counter(layout, payload), samples_uv)


def _counter(layout: PacketLayout, payload: bytes) -> int | None:
    if layout.counter is None:
        return None
    at, width = layout.counter.at_byte, layout.counter.width_bytes
    return int.from_bytes(payload[at : at + width], layout.byte_order)


def _numbers(body: bytes, layout: PacketLayout) -> NDArray[np.float64]:
    """All samples as they stand in the packet, as counts."""
    kind, width = layout.sample_type[0], SAMPLE_BYTES[layout.sample_type]
    order = "<" if layout.byte_order == "little" else ">"
    if width == 3:
        return _24_bit_numbers(body, layout.byte_order == "little", signed=kind == "i")
    with np.errstate(invalid="ignore"):  # some of the bit patterns that are no number; the caller refuses them
        return np.frombuffer(body, dtype=f"{order}{kind}{width}").astype(np.float64)


def _24_bit_numbers(body: bytes, little: bool, signed: bool) -> NDArray[np.float64]:
    digits = np.frombuffer(body, dtype=np.uint8).reshape(-1, 3).astype(np.int64)
    weights = np.array([1, 256, 65536] if little else [65536, 256, 1])
    numbers: NDArray[np.int64] = (digits * weights).sum(axis=1)
    if signed:
        numbers[numbers >= 2**23] -= 2**24
    return numbers.astype(np.float64)
