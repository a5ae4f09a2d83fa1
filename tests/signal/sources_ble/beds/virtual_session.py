"""Play one sensor session in virtual time and keep all that the program saw and said."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass, field

import numpy as np
from fake_sensor import FakeSensor, numbered
from musclewood.signal.sensors.description import SensorDescription
from musclewood.signal.sensors.link import LinkSettings, LinkState, LinkStatus, SensorLink
from musclewood.signal.sensors.stream import PacketCounts
from musclewood.signal.sensors.troubles import Trouble
from musclewood.signal.stream.blocks import Block
from virtual_radio import Air
from virtual_time import run_virtually


@dataclass
class Seen:
    """blocks and statuses with the time at which they came."""

    blocks: list[tuple[float, Block]] = field(default_factory=list)
    statuses: list[tuple[float, LinkStatus]] = field(default_factory=list)
    counts: PacketCounts = field(default_factory=PacketCounts)
    ended_s: float = 0.0
    stopped_s: float = 0.0

    @property
    def samples(self) -> int:
        return sum(len(block.samples_uv) for _, block in self.blocks)

    @property
    def lost(self) -> int:
        return sum(block.lost for _, block in self.blocks)

    @property
    def told(self) -> list[Trouble]:
        """What the patient was told, in order, without repetitions."""
        told: list[Trouble] = []
        for _, status in self.statuses:
            if status.trouble is not None and told[-1:] != [status.trouble]:
                told.append(status.trouble)
        return told

    def first_block_after(self, time_s: float) -> float:
        return next(at_s for at_s, _ in self.blocks if at_s > time_s)

    def state_at(self, time_s: float) -> LinkState:
        return [status.state for at_s, status in self.statuses if at_s <= time_s][-1]


def play(
    air: Air,
    seconds: float,
    *events: tuple[float, Callable[[], object]],
    settings: LinkSettings | None = None,
    description: SensorDescription | None = None,
    keep_blocks: bool = True,
    on_block: Callable[[float, Block], None] | None = None,
) -> Seen:
    """Stream for so many seconds; each event happens at its time. Then stop, as the program does."""
    seen = Seen()

    async def main() -> None:
        loop = asyncio.get_running_loop()

        def take(block: Block) -> None:
            if keep_blocks:
                seen.blocks.append((loop.time(), block))
            if on_block is not None:
                on_block(loop.time(), block)

        link = SensorLink(
            description or air.sensors[0].description, None, air.radio(), settings or LinkSettings(), take,
            lambda status: seen.statuses.append((loop.time(), status)),
        )  # fmt: skip
        for at_s, event in events:
            loop.call_at(at_s, event)
        task = asyncio.create_task(link.run())
        await asyncio.wait({task}, timeout=seconds)
        seen.ended_s = loop.time()
        task.cancel()
        await _end(task)
        seen.stopped_s = loop.time()
        seen.counts = link.counts

    run_virtually(main())
    return seen


async def _end(task: Awaitable[None]) -> None:
    with suppress(asyncio.CancelledError):
        await asyncio.wait_for(task, timeout=10.0)


def assert_all_true(seen: Seen, sensor: FakeSensor, first_packet: int | None = None) -> None:
    """No sample was invented: each stands at its own time, and blocks follow each other without overlap."""
    description = sensor.description
    first = seen.blocks[0][1].samples_uv
    offset = _number_of(first, sensor) if first_packet is None else first_packet * sensor.samples_per_packet
    position = 0
    for _, block in seen.blocks:
        start = round(block.start_s * description.rate_hz)
        assert start == position + block.lost
        position = start + len(block.samples_uv)
        for row, sample in enumerate(range(start + offset, position + offset)):
            for channel, scale in enumerate(description.packet.uv_per_count):
                assert abs(block.samples_uv[row, channel] - numbered(sample, channel) * scale) < 1e-9


def _number_of(samples_uv: np.ndarray, sensor: FakeSensor) -> int:
    """Which sample of the sensor this block begins with, modulo what `numbered` repeats after."""
    count = round(samples_uv[0, 0] / sensor.description.packet.uv_per_count[0])
    return next(sample for sample in range(101) if numbered(sample, 0) == count)
