"""One packet of a sensor: from its bytes to samples. No I/O, no memory of earlier packets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from musclewood.signal.sensors.description import SAMPLE_BITS, PacketLayout
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
    frames = layout.frames_in(len(body))
    if len(payload) < layout.samples_at_byte or len(body) != layout.bytes_of(frames):
        return None
    if layout.samples_per_packet is not None and frames != layout.samples_per_packet:
        return None
    numbers = numbers_in(np.frombuffer(body, dtype=np.uint8), layout.sample_type, layout.byte_order)
    counts = numbers[: frames * layout.channels]
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


def numbers_in(
    octets: NDArray[np.uint8], sample_type: str, byte_order: Literal["little", "big"]
) -> NDArray[np.float64]:
    """All numbers that stand one after the other along the last axis of `octets`, shape (..., bytes), as counts."""
    bits = SAMPLE_BITS[sample_type]
    little, signed = byte_order == "little", sample_type[0] == "i"
    if bits in (12, 24):
        numbers = _12_bit_numbers(octets, little) if bits == 12 else _24_bit_numbers(octets, little)
        return np.where(signed & (numbers >= 2 ** (bits - 1)), numbers - 2**bits, numbers).astype(np.float64)
    kind = np.dtype(f"{'<' if little else '>'}{sample_type[0]}{bits // 8}")
    with np.errstate(invalid="ignore"):  # some of the bit patterns that are no number; the caller refuses them
        return np.ascontiguousarray(octets).view(kind).astype(np.float64)


def _12_bit_numbers(octets: NDArray[np.uint8], little: bool) -> NDArray[np.int64]:
    """Two numbers in three bytes, as one run of bits: from the lowest bit on, or from the highest."""
    whole = -(-octets.shape[-1] // 3) * 3
    padded = np.zeros((*octets.shape[:-1], whole), dtype=np.int64)
    padded[..., : octets.shape[-1]] = octets
    first, middle, last = padded[..., 0::3], padded[..., 1::3], padded[..., 2::3]
    if little:
        pairs = (first | (middle & 15) << 8, middle >> 4 | last << 4)
    else:
        pairs = (first << 4 | middle >> 4, (middle & 15) << 8 | last)
    numbers: NDArray[np.int64] = np.stack(pairs, axis=-1).reshape(*octets.shape[:-1], -1)
    return numbers[..., : octets.shape[-1] * 8 // 12]


def _24_bit_numbers(octets: NDArray[np.uint8], little: bool) -> NDArray[np.int64]:
    weights = np.array([1, 256, 65536] if little else [65536, 256, 1])
    digits = octets.reshape(*octets.shape[:-1], -1, 3).astype(np.int64)
    numbers: NDArray[np.int64] = (digits * weights).sum(axis=-1)
    return numbers
