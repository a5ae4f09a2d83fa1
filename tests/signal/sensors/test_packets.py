"""Bytes to samples: every layout, and nothing that was not sent."""

from __future__ import annotations

import struct
from dataclasses import replace
from typing import Literal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from musclewood.signal.sensors.description import SAMPLE_BITS, CounterLayout, PacketLayout
from musclewood.signal.sensors.packets import decode
from musclewood.signal.sensors.stream import AHEAD_PACKETS, AHEAD_S, CountedStream, PacketStream, UncountedStream

RATE_HZ = 1000.0
LONGEST_PACKET = 10  # samples; 22 bytes hold no more than that of two channels
PLAIN = PacketLayout(2, "i16", "little", 2, 5, True, CounterLayout(0, 2, "packets"), (0.5, 2.0), (0.0, 10.0))
LIMITS = {
    "i8": (-128, 127), "u8": (0, 255), "i16": (-(2**15), 2**15 - 1), "u16": (0, 2**16 - 1),
    "i24": (-(2**23), 2**23 - 1), "u24": (0, 2**24 - 1), "i32": (-(2**31), 2**31 - 1), "u32": (0, 2**32 - 1),
    "i12": (-2048, 2047), "u12": (0, 4095), "f32": (-(2**20), 2**20),
}  # fmt: skip


def encoded(numbers: list[int], sample_type: str, order: Literal["little", "big"]) -> bytes:
    if sample_type == "f32":
        return struct.pack(("<" if order == "little" else ">") + f"{len(numbers)}f", *numbers)
    if sample_type in ("i12", "u12"):  # one run of bits
        length = -(-len(numbers) * 12 // 8)
        parts = [number % 4096 for number in numbers]
        if order == "little":
            return sum(part << 12 * place for place, part in enumerate(parts)).to_bytes(length, "little")
        run = "".join(f"{part:012b}" for part in parts).ljust(8 * length, "0")
        return int(run, 2).to_bytes(length, "big")
    width = int(sample_type[1:]) // 8
    return b"".join(number.to_bytes(width, order, signed=sample_type[0] == "i") for number in numbers)


@pytest.mark.parametrize("sample_type", SAMPLE_BITS)
@pytest.mark.parametrize("order", ["little", "big"])
@pytest.mark.parametrize("interleaved", [True, False])
def test_every_sample_type_order_and_arrangement(
    sample_type: str, order: Literal["little", "big"], interleaved: bool
) -> None:
    low, high = LIMITS[sample_type]
    frames = [[low, high], [0, 1], [low + 1, high // 2]]
    layout = replace(PLAIN, sample_type=sample_type, byte_order=order, samples_per_packet=3, interleaved=interleaved)
    sent = frames if interleaved else [list(channel) for channel in zip(*frames, strict=True)]
    payload = (513).to_bytes(2, order) + encoded([number for row in sent for number in row], sample_type, order)
    packet = decode(layout, payload)
    assert packet is not None and packet.counter == 513
    np.testing.assert_allclose(packet.samples_uv, [[a * 0.5, (b - 10) * 2.0] for a, b in frames], rtol=1e-12)


@pytest.mark.parametrize("length", [0, 1, 2, 3, 12, 21, 23, 42])
def test_a_packet_of_another_length_is_refused(length: int) -> None:
    assert decode(PLAIN, bytes(length)) is None
    assert decode(PLAIN, bytes(22)) is not None


def test_samples_to_the_end_of_the_packet() -> None:
    layout = replace(PLAIN, samples_per_packet=None)
    assert [len(packet.samples_uv) for n in range(5) if (packet := decode(layout, bytes(2 + 4 * n)))] == [0, 1, 2, 3, 4]
    assert decode(layout, bytes(2 + 3)) is None and decode(layout, bytes(1)) is None


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_number_that_is_none_is_refused(value: float) -> None:
    layout = replace(PLAIN, sample_type="f32", samples_per_packet=1)
    assert decode(layout, b"\0\0" + struct.pack("<ff", 1.0, value)) is None


layouts = st.builds(
    PacketLayout,
    channels=st.just(2),
    sample_type=st.sampled_from(list(SAMPLE_BITS)),
    byte_order=st.sampled_from(["little", "big"]),
    samples_at_byte=st.integers(4, 6),
    samples_per_packet=st.one_of(st.none(), st.integers(1, 3)),
    interleaved=st.booleans(),
    counter=st.one_of(
        st.none(),
        st.builds(CounterLayout, st.integers(0, 0), st.integers(1, 4), st.sampled_from(["packets", "samples"])),
    ),
    uv_per_count=st.just((1.0, 1.0)),
    zero_count=st.just((0.0, 0.0)),
)


def stream_for(layout: PacketLayout) -> PacketStream:
    return CountedStream(layout, layout.counter, RATE_HZ) if layout.counter else UncountedStream(layout, RATE_HZ)


def check_nothing_is_invented(layout: PacketLayout, payloads: list[bytes], pauses_s: list[float]) -> None:
    """Whatever comes out was sent, once, in the packets' own bytes; time only moves on, and no faster than ours."""
    stream, now_s, position = stream_for(layout), 0.0, 0
    sent: list[bytes] = []
    received: list[bytes] = []
    for payload, pause_s in zip(payloads, pauses_s, strict=True):
        now_s += pause_s
        whole = decode(layout, payload)
        if whole is not None:
            sent.append(whole.samples_uv.tobytes())
        for block in stream.feed(payload, now_s) + (stream.rejoin() if pause_s > 1.5 else []):
            start = round(block.start_s * RATE_HZ)
            assert block.lost >= 0 and start == position + block.lost
            assert np.isfinite(block.samples_uv).all()
            position = start + len(block.samples_uv)
            received.append(block.samples_uv.tobytes())
    received += [block.samples_uv.tobytes() for block in stream.rejoin()]
    for samples in received:
        sent.remove(samples)  # fails on one that was never sent, or came out twice
    assert stream.counts.refused == len(payloads) - len(received) - len(sent)
    # Even a counter that is nonsense throughout cannot move time ahead of ours by more than this with each packet.
    ahead_s = AHEAD_S + (AHEAD_PACKETS + 1) * LONGEST_PACKET / RATE_HZ
    assert position <= (now_s + len(payloads) * ahead_s) * RATE_HZ


payload_bytes = st.binary(max_size=22)


@given(layouts, st.lists(st.tuples(payload_bytes, st.floats(0.0, 2.0)), max_size=100))
@settings(max_examples=60, deadline=None)
def test_random_bytes_never_raise_and_never_invent_a_sample(
    layout: PacketLayout, sequence: list[tuple[bytes, float]]
) -> None:
    check_nothing_is_invented(layout, [payload for payload, _ in sequence], [pause for _, pause in sequence])


def test_many_random_bytes(full: bool) -> None:
    """100,000 random packets of all layouts at full size, 5,000 otherwise; most of a plausible length."""
    rng = np.random.default_rng(11)
    kinds = list(SAMPLE_BITS)
    for number in range(1000 if full else 50):
        layout = replace(
            PLAIN,
            sample_type=kinds[number % len(kinds)],
            samples_per_packet=[None, 1, 2, 5][number % 4],
            counter=[None, CounterLayout(0, 1, "packets"), CounterLayout(0, 2, "samples")][number % 3],
            interleaved=bool(number % 2),
        )
        lengths = 2 + layout.bytes_of(1) * rng.integers(0, 6, 100) + (rng.random(100) < 0.2)
        payloads = [rng.bytes(length) for length in lengths]
        check_nothing_is_invented(layout, payloads, list(rng.exponential(0.05, 100)))
