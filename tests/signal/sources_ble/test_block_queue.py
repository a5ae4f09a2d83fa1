"""Blocks pass from one thread to another in order; what nobody takes in time is reported as lost."""

from __future__ import annotations

from threading import Thread

import numpy as np
from musclewood.signal.sources.block_queue import BlockQueue
from musclewood.signal.stream.blocks import Block


def block(first: int, count: int = 10, lost: int = 0) -> Block:
    return Block(np.arange(first, first + count, dtype=np.float64)[:, None], first / 1000.0, lost)


def test_a_stalled_taker_finds_the_newest_and_the_number_of_the_rest() -> None:
    queue = BlockQueue(longest=100)
    for number in range(1000):
        queue.put(block(number * 12 + 2, lost=2))
    blocks = queue.take()
    assert sum(len(each.samples_uv) for each in blocks) == 100
    assert sum(len(each.samples_uv) + each.lost for each in blocks) == 12000
    assert blocks[0].start_s == blocks[0].samples_uv[0, 0] / 1000.0  # time is untouched
    assert queue.take() == []
    queue.put(block(12000))
    assert queue.take()[0].lost == 0


def test_two_threads_lose_nothing_and_keep_the_order() -> None:
    queue = BlockQueue(longest=10**9)
    thread = Thread(target=lambda: [queue.put(block(number * 10)) for number in range(5000)])
    thread.start()
    taken: list[Block] = []
    while thread.is_alive():
        taken += queue.take()
    thread.join()
    taken += queue.take()
    values = np.concatenate([each.samples_uv[:, 0] for each in taken])
    np.testing.assert_array_equal(values, np.arange(50000))
