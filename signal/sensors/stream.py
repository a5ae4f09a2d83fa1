"""From packets to blocks: order, duplicates, losses and the sensor's own time. No I/O; the arrival time is passed in.

Blocks follow each other without overlap: start_s of each is the end of the one before plus what it reports as lost.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import deque
from dataclasses import dataclass

from musclewood.signal.sensors.arrival_clock import ArrivalClock
from musclewood.signal.sensors.description import CounterLayout, PacketLayout, SensorDescription
from musclewood.signal.sensors.packets import Packet, decode
from musclewood.signal.stream.blocks import Block, Samples

# Our choices. A missing packet is awaited while three others arrive: Bluetooth itself keeps the order, so mending more
# would only delay every loss. A packet more than 64 behind, or farther ahead than the clock allows, does not continue
# this stream (packets are often late but never early); four such in a row are the sensor counting anew.
AWAITED_PACKETS = 3
BEHIND_PACKETS = 64
AHEAD_S = 0.1
AHEAD_PACKETS = 2
STRAYS_TO_RESTART = 4
# After a new connection the counter is believed only if the clock agrees this well; else the sensor started anew.
REJOIN_S = 0.2
# Without a counter, only a silence longer than any delay can be told from one.
SILENCE_S = 0.5


@dataclass(slots=True)
class PacketCounts:
    """What became of the packets, and how many samples (per channel) never came."""

    received: int = 0
    refused: int = 0
    duplicate: int = 0
    late: int = 0
    lost_samples: int = 0


class PacketStream(ABC):
    """The part that streams with and without a counter share: position, clock, blocks."""

    def __init__(self, layout: PacketLayout, rate_hz: float) -> None:
        self.counts = PacketCounts()
        self._layout = layout
        self._rate_hz = rate_hz
        self._clock = ArrivalClock()
        self._position = 0  # samples made by the sensor so far, lost ones included
        self._begun = False
        self._rejoining = False

    def feed(self, payload: bytes, arrived_s: float) -> list[Block]:
        """Take one packet; returns what can now be passed on, in order."""
        self.counts.received += 1
        packet = decode(self._layout, payload)
        if packet is None:
            self.counts.refused += 1
            self._refuse(payload)
            return []
        return self._place(packet, arrived_s)

    def rejoin(self) -> list[Block]:
        """The connection ended: pass on what is still held; the next packet comes from a new connection."""
        self._rejoining = self._begun
        return self._release_all()

    @abstractmethod
    def _place(self, packet: Packet, arrived_s: float) -> list[Block]: ...

    def _release_all(self) -> list[Block]:
        return []

    @abstractmethod
    def _refuse(self, payload: bytes) -> None: ...

    def _missing_by_clock(self, packet: Packet, arrived_s: float) -> int:
        """Samples that must have been made between the last block and this packet, if it was not delayed."""
        if not self._begun:
            return 0
        due = self._clock.device_s(arrived_s) * self._rate_hz
        return max(0, round(due) - self._position - len(packet.samples_uv))

    def _block(self, samples_uv: Samples, lost: int, arrived_s: float) -> Block:
        self._begun = True
        self.counts.lost_samples += lost
        start = self._position + lost
        self._position = start + len(samples_uv)
        self._clock.observe(arrived_s, self._position / self._rate_hz)
        return Block(samples_uv, start / self._rate_hz, lost)


class UncountedStream(PacketStream):
    """Packets without a counter: only refused ones and long silences are known to be lost."""

    def __init__(self, layout: PacketLayout, rate_hz: float) -> None:
        super().__init__(layout, rate_hz)
        self._refused_samples = 0

    def _refuse(self, payload: bytes) -> None:
        """The sensor made a whole packet, of which this is what arrived."""
        whole_frames = self._layout.frames_in(max(0, len(payload) - self._layout.samples_at_byte))
        self._refused_samples += self._layout.samples_per_packet or whole_frames

    def _place(self, packet: Packet, arrived_s: float) -> list[Block]:
        missing = self._missing_by_clock(packet, arrived_s)
        silent = self._rejoining or missing > SILENCE_S * self._rate_hz
        lost = max(missing, self._refused_samples) if silent else self._refused_samples
        self._refused_samples, self._rejoining = 0, False
        return [self._block(packet.samples_uv, lost if self._begun else 0, arrived_s)]


@dataclass(frozen=True, slots=True)
class _Held:
    samples_uv: Samples
    arrived_s: float


class CountedStream(PacketStream):
    """Packets with a counter. Numbers here are unwrapped and count what the sensor counts: packets or samples."""

    def __init__(self, layout: PacketLayout, counter: CounterLayout, rate_hz: float) -> None:
        super().__init__(layout, rate_hz)
        self._wraps_at = counter.wraps_at
        self._counts_samples = counter.counts == "samples"
        self._next = 0
        self._packet_samples = layout.samples_per_packet or 1  # of the last packet, where they differ in length
        self._held: dict[int, _Held] = {}
        self._seen: deque[int] = deque(maxlen=2 * BEHIND_PACKETS)
        self._strays: list[tuple[int, _Held]] = []

    def _refuse(self, payload: bytes) -> None:
        """Nothing to note: the next packet's counter tells what is missing."""

    def _place(self, packet: Packet, arrived_s: float) -> list[Block]:
        assert packet.counter is not None
        held = _Held(packet.samples_uv, arrived_s)
        if not self._begun:
            self._restart_at(packet.counter)
            return self._pass_on(packet.counter, held, lost=0)
        missing = self._missing_by_clock(packet, arrived_s)
        if self._rejoining:
            return self._rejoin_with(packet.counter, held, missing)
        number = self._unwrapped(packet.counter, missing, AHEAD_S)
        if number is None:
            return self._stray(packet.counter, held, missing)
        self._strays.clear()
        if number < self._next or number in self._held:
            self._drop(number)
            return []
        self._held[number] = held
        return self._release(AWAITED_PACKETS)

    def _samples_in(self, numbers: int) -> int:
        return numbers if self._counts_samples else numbers * self._packet_samples

    def _numbers_in(self, samples: float) -> float:
        return samples if self._counts_samples else samples / max(1, self._packet_samples)

    def _unwrapped(self, counter: int, missing: int, ahead_s: float) -> int | None:
        """The number that this counter stands for: the one nearest to what the clock expects, if any is plausible."""
        expected = self._next + round(self._numbers_in(missing))
        number = expected + (counter - expected + self._wraps_at // 2) % self._wraps_at - self._wraps_at // 2
        packet = self._numbers_in(self._packet_samples)
        slack = min(max(self._numbers_in(ahead_s * self._rate_hz), AHEAD_PACKETS * packet), self._wraps_at / 4)
        behind = min(BEHIND_PACKETS * packet, self._wraps_at / 4)
        for candidate in (number, number - self._wraps_at):
            if self._next - behind <= candidate <= expected + slack:
                return candidate
        return None

    def _rejoin_with(self, counter: int, held: _Held, missing: int) -> list[Block]:
        """First packet of a new connection: the sensor went on counting, or it was switched on anew."""
        self._rejoining = False
        number = self._unwrapped(counter, missing, REJOIN_S)
        apart = abs(self._samples_in((number or 0) - self._next) - missing)
        if number is not None and number >= self._next and apart <= REJOIN_S * self._rate_hz:
            return self._pass_on(number, held, self._samples_in(number - self._next))
        self._restart_at(counter)
        return self._pass_on(counter, held, missing)

    def _stray(self, counter: int, held: _Held, missing: int) -> list[Block]:
        """A packet that does not fit. Believed only when its followers agree: then the sensor counts anew."""
        if self._strays:
            last, before = self._strays[-1]
            if (last + self._span(before.samples_uv)) % self._wraps_at != counter:
                self._strays.clear()
        self._strays.append((counter, held))
        if len(self._strays) < STRAYS_TO_RESTART:
            return []
        strays, self._strays = self._strays, []
        blocks = self._release_all()
        lost = max(0, missing - sum(len(stray.samples_uv) for _, stray in strays[:-1]))
        self._restart_at(strays[0][0])
        for number, (_, stray) in enumerate(strays):
            blocks += self._pass_on(self._next, stray, lost if number == 0 else 0)
        return blocks

    def _release(self, awaited: int) -> list[Block]:
        """Pass on what is in order; a gap is given up once more than `awaited` packets wait behind it."""
        blocks: list[Block] = []
        while self._held and (self._next in self._held or len(self._held) > awaited):
            number = min(self._held)
            held = self._held.pop(number)
            if number < self._next:  # numbers that overlap contradict each other; the earlier packet stands
                self._drop(number)
            else:
                blocks += self._pass_on(number, held, self._samples_in(number - self._next))
        return blocks

    def _release_all(self) -> list[Block]:
        return self._release(awaited=0)

    def _pass_on(self, number: int, held: _Held, lost: int) -> list[Block]:
        self._seen.append(number)
        self._packet_samples = len(held.samples_uv) or self._packet_samples
        self._next = number + self._span(held.samples_uv)
        return [self._block(held.samples_uv, lost, held.arrived_s)]

    def _span(self, samples_uv: Samples) -> int:
        return len(samples_uv) if self._counts_samples else 1

    def _restart_at(self, counter: int) -> None:
        self._held.clear()
        self._seen.clear()
        self._next = counter

    def _drop(self, number: int) -> None:
        if number in self._held or number in self._seen:
            self.counts.duplicate += 1
        else:
            self.counts.late += 1


def open_stream(description: SensorDescription) -> PacketStream:
    """The stream that fits the description."""
    layout = description.packet
    if layout.counter is None:
        return UncountedStream(layout, description.rate_hz)
    return CountedStream(layout, layout.counter, description.rate_hz)
