"""Hand blocks from the thread that receives them to the one that plays."""

from __future__ import annotations

from collections import deque
from dataclasses import replace
from threading import Condition

from musclewood.signal.stream.blocks import Block


class BlockQueue:
    """Holds at most `longest` samples. If nobody takes them, the oldest go, and are reported as lost."""

    def __init__(self, longest: int) -> None:
        self._longest = longest
        self._changed = Condition()
        self._blocks: deque[Block] = deque()
        self._samples = 0
        self._dropped = 0

    def put(self, block: Block) -> None:
        with self._changed:
            self._blocks.append(block)
            self._samples += len(block.samples_uv)
            while self._samples > self._longest and len(self._blocks) > 1:
                oldest = self._blocks.popleft()
                self._samples -= len(oldest.samples_uv)
                self._dropped += len(oldest.samples_uv) + oldest.lost
            self._changed.notify()

    def take(self, wait_s: float = 0.0) -> list[Block]:
        """All that waits, in order; if nothing does, whatever comes first within `wait_s`."""
        with self._changed:
            if wait_s > 0.0 and not self._blocks:
                self._changed.wait(wait_s)
            blocks, dropped = list(self._blocks), self._dropped
            self._blocks.clear()
            self._samples = self._dropped = 0
        if blocks and dropped:
            blocks[0] = replace(blocks[0], lost=blocks[0].lost + dropped)
        return blocks
