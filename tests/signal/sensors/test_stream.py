"""Order, duplicates, gaps and time, packet by packet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from musclewood.signal.sensors.description import CounterLayout, PacketLayout
from musclewood.signal.sensors.stream import AWAITED_PACKETS, CountedStream, UncountedStream
from musclewood.signal.stream.blocks import Block

RATE_HZ = 1000.0
BY_PACKET = CounterLayout(0, 1, "packets")
LAYOUT = PacketLayout(1, "u16", "little", 1, 5, True, BY_PACKET, (1.0,), (0.0,))
PERIOD_S = 0.005


def packet(number: int, counter: CounterLayout = BY_PACKET, samples: int = 5) -> bytes:
    """Packet `number` of an endless stream; sample k has the value k."""
    first = number * 5
    counted = number if counter.counts == "packets" else first
    head = (counted % counter.wraps_at).to_bytes(counter.width_bytes, "little")
    return head + b"".join((sample % 65536).to_bytes(2, "little") for sample in range(first, first + samples))


def feed(stream: CountedStream, numbers: list[int], late_s: float = 0.0) -> list[Block]:
    """Each packet arrives when its number says, however it is shuffled."""
    return [
        block
        for place, number in enumerate(numbers)
        for block in stream.feed(packet(number, LAYOUT.counter or BY_PACKET), max(place, number) * PERIOD_S + late_s)
    ]


def values(blocks: list[Block]) -> list[int]:
    return [int(value) for block in blocks for value in block.samples_uv[:, 0]]


def counted() -> CountedStream:
    return CountedStream(LAYOUT, BY_PACKET, RATE_HZ)


def test_in_order_packets_pass_at_once() -> None:
    stream = counted()
    for number in range(1000):
        blocks = feed(stream, [number])
        assert values(blocks) == list(range(number * 5, number * 5 + 5))
        assert blocks[0].start_s == pytest.approx(number * PERIOD_S) and blocks[0].lost == 0


@given(st.data())
@settings(max_examples=100, deadline=None)
def test_packets_overtaken_by_up_to_three_are_put_in_order(data: st.DataObject) -> None:
    numbers = list(range(60))
    for at in range(1, 55, AWAITED_PACKETS + 2):
        shift = data.draw(st.integers(0, AWAITED_PACKETS))
        numbers.insert(at + shift, numbers.pop(at))
    doubled = [n for number in numbers for n in [number] * data.draw(st.integers(1, 2))]
    stream = counted()
    blocks = feed(stream, doubled) + stream.rejoin()
    assert values(blocks) == list(range(300))
    assert sum(block.lost for block in blocks) == 0
    assert stream.counts.duplicate == len(doubled) - 60


@given(st.sets(st.integers(1, 598), max_size=100))
@settings(max_examples=100, deadline=None)
def test_whatever_is_missing_is_counted_and_nothing_moves(missing: set[int]) -> None:
    """More than two wraps of the counter, any packets missing."""
    stream = counted()
    blocks = feed(stream, [number for number in range(600) if number not in missing]) + stream.rejoin()
    assert sum(block.lost for block in blocks) == 5 * len(missing) == stream.counts.lost_samples
    for block in blocks:
        first = round(block.start_s * RATE_HZ)
        assert values([block]) == [sample % 65536 for sample in range(first, first + 5)]


@pytest.mark.parametrize("hole", [60, 200, 256, 700, 5000])
def test_a_hole_longer_than_the_counter_is_measured_by_the_clock(hole: int) -> None:
    """0.3 s to 25 s of packets; the one-byte counter wraps every 1.28 s."""
    stream = counted()
    feed(stream, list(range(300)))
    blocks = feed(stream, list(range(300 + hole, 320 + hole)))
    assert blocks[0].lost == 5 * hole
    assert [block.lost for block in blocks[1:]] == [0] * (len(blocks) - 1)


def test_a_long_delay_without_loss_is_no_hole() -> None:
    """A second of packets comes late but whole: the clock alone would have called it lost."""
    stream = counted()
    feed(stream, list(range(300)))
    late = [block for number in range(300, 500) for block in stream.feed(packet(number), 500 * PERIOD_S)]
    assert values(late) == list(range(1500, 2500)) and sum(block.lost for block in late) == 0


def test_a_garbled_counter_is_not_believed() -> None:
    layout = replace(LAYOUT, counter=CounterLayout(0, 2, "packets"), samples_at_byte=2)
    assert layout.counter is not None
    stream = CountedStream(layout, layout.counter, RATE_HZ)
    lost = 0
    for number in range(200):
        sent = 40000 if number == 100 else number
        lost += sum(block.lost for block in stream.feed(packet(sent, layout.counter), number * PERIOD_S))
    assert lost == 5  # the garbled one; not 40000 packets


def test_a_sensor_that_counts_anew_is_believed_after_four_packets() -> None:
    stream = counted()
    feed(stream, list(range(200)))
    blocks = [b for n in range(20) for b in stream.feed(packet(n), (200 + n) * PERIOD_S)]
    assert values(blocks) == list(range(100))
    assert sum(block.lost for block in blocks) <= 5
    assert blocks[0].start_s == pytest.approx(1.0, abs=0.006)


@pytest.mark.parametrize("restarted", [False, True])
def test_a_new_connection_measures_its_gap(restarted: bool) -> None:
    stream = counted()
    feed(stream, list(range(300)))
    assert stream.rejoin() == []
    first = 0 if restarted else 900
    blocks = [b for n in range(10) for b in stream.feed(packet(first + n), (900 + n) * PERIOD_S)]
    assert blocks[0].lost == 3000 and blocks[0].start_s == pytest.approx(4.5)
    assert sum(block.lost for block in blocks[1:]) == 0


def test_what_is_held_comes_out_when_the_connection_ends() -> None:
    stream = counted()
    blocks = feed(stream, [0, 1, 3, 4]) + stream.rejoin()
    assert values(blocks) == [*range(10), *range(15, 25)]
    assert [block.lost for block in blocks] == [0, 0, 5, 0]


def test_a_counter_of_samples_with_packets_of_any_length() -> None:
    counter = CounterLayout(0, 2, "samples")
    layout = replace(LAYOUT, counter=counter, samples_at_byte=2, samples_per_packet=None)
    stream = CountedStream(layout, counter, RATE_HZ)
    rng = np.random.default_rng(5)
    sample, expected_lost, blocks = 0, 0, []
    for _ in range(20000):  # the counter wraps once
        length = int(rng.integers(1, 9))
        head = (sample % 65536).to_bytes(2, "little")
        body = b"".join(((sample + k) % 65536).to_bytes(2, "little") for k in range(length))
        if sample == 0 or rng.random() > 0.03:
            blocks += stream.feed(head + body, (sample + length) / RATE_HZ)
            last = sample + length
        sample += length
    blocks += stream.rejoin()
    expected_lost = last - len(values(blocks))
    assert sum(block.lost for block in blocks) == expected_lost > 1000
    assert all(values([b])[0] == round(b.start_s * RATE_HZ) % 65536 for b in blocks)


def test_without_a_counter_only_refused_packets_and_long_silences_are_lost() -> None:
    layout = replace(LAYOUT, counter=None, samples_at_byte=0)
    stream = UncountedStream(layout, RATE_HZ)
    body = bytes(10)
    lost = [block.lost for n in range(100) for block in stream.feed(body, n * PERIOD_S)]
    assert sum(lost) == 0
    assert stream.feed(body[:7], 100 * PERIOD_S) == []
    assert stream.feed(body, 101 * PERIOD_S)[0].lost == 5
    assert stream.feed(body, 160 * PERIOD_S)[0].lost == 0  # 0.3 s: a delay, as far as anybody can tell
    burst = [block.lost for _ in range(58) for block in stream.feed(body, 160 * PERIOD_S)]
    assert sum(burst) == 0
    assert stream.feed(body, 360 * PERIOD_S)[0].lost == pytest.approx(199 * 5, abs=10)
