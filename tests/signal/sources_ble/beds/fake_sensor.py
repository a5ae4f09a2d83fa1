"""A sensor that exists only in a test. It encodes packets from a description, independently of
the program's decoder."""

from __future__ import annotations

import asyncio
import heapq
import math
import random
import struct
from collections.abc import Callable, Sequence
from typing import NamedTuple

from link_faults import Faults, clean
from musclewood.signal.sensors.description import SensorDescription

Signal = Callable[[int, int], int]  # (sample number, channel) -> count


def numbered(sample: int, channel: int) -> int:
    """Each sample says which one it is, so that a test can tell an invented one."""
    return (sample * 7 + channel * 13) % 101


def contractions(rate_hz: float, on_s: float = 3.0, off_s: float = 3.0, strong: int = 900, weak: int = 30) -> Signal:
    """Noise like an EMG that goes on and off, in both channels alike."""

    def count(sample: int, channel: int) -> int:
        resting = sample / rate_hz % (on_s + off_s) < off_s
        return round(random.Random(sample * 8 + channel).gauss(0.0, weak if resting else strong))

    return count


def efforts(rate_hz: float, on_s: float = 3.0, off_s: float = 3.0, strong: int = 400, weak: int = 8) -> Signal:
    """The same for a sensor that sends an envelope."""

    def count(sample: int, channel: int) -> int:
        return weak if sample / rate_hz % (on_s + off_s) < off_s else strong

    return count


class Squeeze(NamedTuple):
    """Rest for so long, then squeeze for so long with a share of the strongest effort."""

    rest_s: float
    level: float
    held_s: float


class Wearer:
    """A signal: somebody who squeezes as written, from the first sample that is sent on, then rests for good.

    What was squeezed is the truth to which a program's counts are held: it goes on whether the radio does or not.
    """

    def __init__(self, rate_hz: float, squeezes: Sequence[Squeeze], strong: int, weak: int, *, envelope: bool) -> None:
        self.rate_hz, self.squeezes = rate_hz, tuple(squeezes)
        self.first: int | None = None  # number of the first sample sent
        self._weak = weak
        self._levels: list[float] = []
        for squeeze in squeezes:
            self._levels += [0.0] * round(squeeze.rest_s * rate_hz) + [squeeze.level] * round(squeeze.held_s * rate_hz)
        chance = random.Random(7)
        middle, spread = (1.0, 0.04) if envelope else (0.0, 1.0)
        self._noise = [chance.gauss(middle, spread) for _ in range(20011)]
        self._strong = strong

    def __call__(self, sample: int, channel: int) -> int:
        if self.first is None:
            self.first = sample
        place = sample - self.first
        level = self._levels[place] if 0 <= place < len(self._levels) else 0.0
        noise = self._noise[(sample + 4999 * channel) % len(self._noise)]
        return round(noise * max(self._weak, level * self._strong))

    @property
    def lasts_s(self) -> float:
        return len(self._levels) / self.rate_hz

    def times_s(self) -> list[tuple[float, float]]:
        """Beginning and end of each squeeze, in seconds since the first sample."""
        ends, now_s = [], 0.0
        for squeeze in self.squeezes:
            now_s += squeeze.rest_s + squeeze.held_s
            ends.append((now_s - squeeze.held_s, now_s))
        return ends


def wearer_of(description: SensorDescription, squeezes: Sequence[Squeeze]) -> Wearer:
    """Fits the sensor: noise of 90 µV RMS in the strongest squeeze over 3 µV of rest, or an envelope like it."""
    scale = description.packet.uv_per_count[0]
    return Wearer(description.rate_hz, squeezes, round(90.0 / scale), round(3.0 / scale), envelope=description.envelope)


class FakeSensor:
    """Makes packets from the moment it is switched on, whether anybody listens or not.

    drift: how much faster its clock runs than ours (50e-6 is 50 parts per million).
    """

    def __init__(
        self,
        description: SensorDescription,
        signal: Signal = numbered,
        faults: Faults = clean,
        *,
        address: str = "C0:FF:EE:00:00:01",
        name: str = "",
        drift: float = 0.0,
        samples_per_packet: int = 10,
        strength_dbm: int = -60,
    ) -> None:
        self.description = description
        self.signal, self.faults = signal, faults
        self.address, self.strength_dbm = address, strength_dbm
        self.name = name or (description.advertised_name or "MW") + " 0001"
        self.samples_per_packet = description.packet.samples_per_packet or samples_per_packet
        self.period_s = self.samples_per_packet / description.rate_hz / (1.0 + drift)
        self.battery_pct = 87
        self.reachable = True
        self.wants_pairing, self.pairs = False, True  # before it sends anything; whether somebody says yes
        self.commands: list[bytes] = []
        self.streaming = not description.start
        self.sent = 0
        self.late_s = 0.0  # how much later than due a packet left at the worst: this computer's fault, not the radio's
        self._on_since_s = 0.0
        self._missed = 0  # samples by which the counter's number is behind the time

    def switch_on(self, now_s: float) -> None:
        """From here on the counter starts anew; what it measures went on meanwhile."""
        self._on_since_s, self.reachable = now_s, True
        self._missed = round(now_s * self.description.rate_hz)

    def switch_off(self) -> None:
        self.reachable, self.streaming = False, not self.description.start

    def command(self, payload: bytes) -> None:
        self.commands.append(payload)
        if payload and payload == self.description.start:
            self.streaming = True
        elif payload and payload == self.description.stop:
            self.streaming = False

    def packet(self, number: int) -> bytes:
        """The packet with this running number."""
        layout = self.description.packet
        first = number * self.samples_per_packet
        order = "<" if layout.byte_order == "little" else ">"
        head = bytearray(layout.samples_at_byte)
        if layout.counter is not None:
            counted = first if layout.counter.counts == "samples" else number
            width = layout.counter.width_bytes
            at = layout.counter.at_byte
            head[at : at + width] = (counted % 256**width).to_bytes(width, layout.byte_order)
        frames = [
            [self.signal(sample + self._missed, channel) for channel in range(layout.channels)]
            for sample in range(first, first + self.samples_per_packet)
        ]
        ordered = frames if layout.interleaved else list(zip(*frames, strict=True))
        return bytes(head) + _body([n for row in ordered for n in row], layout.sample_type, order)

    async def transmit(self, deliver: Callable[[bytes], None]) -> None:
        """Send for ever what the faults let through; until cancelled."""
        loop = asyncio.get_running_loop()
        number = math.ceil((loop.time() - self._on_since_s) / self.period_s)
        underway: list[tuple[float, int, int]] = []
        while True:
            due_s = self._on_since_s + (number + 1) * self.period_s  # a packet leaves when its last sample is made
            if not underway or due_s <= underway[0][0]:
                await asyncio.sleep(due_s - loop.time())
                self.late_s = max(self.late_s, loop.time() - due_s)
                for copy, delay_s in enumerate(self.faults(number)):
                    # Whole microseconds, so that packets that are to come together come in order.
                    heapq.heappush(underway, (round(due_s + delay_s, 6), number, copy))
                number += 1
            else:
                await asyncio.sleep(underway[0][0] - loop.time())
            while underway and underway[0][0] <= loop.time() + 1e-6:
                arriving = heapq.heappop(underway)[1]
                if self.reachable and self.streaming:
                    self.sent += 1
                    deliver(self.packet(arriving))


def _body(counts: list[int], sample_type: str, order: str) -> bytes:
    if sample_type not in ("i12", "u12"):
        return b"".join(_encoded(count, sample_type, order) for count in counts)
    runs = [f"{count % 4096:012b}" for count in counts]  # one run of bits, from the lowest on or from the highest
    whole = -(-12 * len(counts) // 8)
    if order == "<":
        return int("".join(reversed(runs)), 2).to_bytes(whole, "little")
    return int("".join(runs).ljust(8 * whole, "0"), 2).to_bytes(whole, "big")


def _encoded(count: int, sample_type: str, order: str) -> bytes:
    if sample_type == "f32":
        return struct.pack(order + "f", count)
    width = int(sample_type[1:]) // 8
    return count.to_bytes(width, "little" if order == "<" else "big", signed=sample_type[0] == "i")
