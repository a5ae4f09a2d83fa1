"""What the packets of an unknown sensor mean, guessed from the packets alone. No I/O.

The right reading needs the fewest bits: read at a wrong byte, in a wrong order or width, the high digits of one number
are the noise of another, and the whole is harder to foretell (the principle of the minimum description length: J.
Rissanen, "Modeling by shortest data description", Automatica 14, 1978). A number is foretold by what stood in its place
before, with a spread learnt from the last few: two-sided geometric, as the integers' counterpart of Laplace's
distribution.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from musclewood.signal.sensors.description import SAMPLE_BITS, CounterLayout, PacketLayout
from musclewood.signal.sensors.packets import numbers_in
from musclewood.signal.sensors.running_numbers import ByteOrder, Octets, Rising, rising_numbers
from numpy.typing import NDArray

Numbers = NDArray[np.float64]

# Our choices.
FEWEST_PACKETS = 64
MOST_PACKETS = 600  # looked at for the reading: in runs from all over, so that rest and effort are among them
RUN_PACKETS = 100
LONGEST_HEAD_BYTES = 20
MOST_CHANNELS = 8
REMEMBERED = 8  # numbers before, from which the spread is learnt
TIE_BITS = 0.03  # a number; below it two readings are as good as each other
MOST_BITS = 33.0  # what a number costs at the most: whatever it is, it can be written down
FLAG_BITS, RIDDLE_BITS = 1.5, 9.0
PLACE_BITS = 0.1  # what each costs for being there: of two explanations the one with fewer numbers
NUMBERED_BITS = 0.1  # what a number of channels gains by which a counter of samples would come out even
EVEN_BITS = 3.0  # what a column costs that fills its range evenly: low digits do, signals do not
DEAD_BITS = 0.5  # what one costs that never changes: rather a byte to skip than a sample
EVEN_SHARE = 0.15  # of the packets, in each quarter of the range


@dataclass(frozen=True, slots=True)
class LayoutGuess:
    """layout: counts as µV. rising: all numbers that grow. channels_shown: the signal itself
    tells how many there are."""

    layout: PacketLayout
    rising: tuple[Rising, ...]
    channels_shown: bool


@dataclass(frozen=True, slots=True)
class _Reading:
    """Where samples begin and how each is written. bits: of a whole packet."""

    start: int
    sample_type: str
    byte_order: ByteOrder
    bits: float
    numbers: int


def guess_layout(payloads: Sequence[bytes], channels: int | None = None) -> LayoutGuess | None:
    """The likeliest layout of these packets of one characteristic, in the order in which they came; None if none fits.

    channels: how many the sensor has, if somebody counted its electrodes.
    """
    lengths = Counter(len(payload) for payload in payloads)
    length, often = lengths.most_common(1)[0] if lengths else (0, 0)
    if often < FEWEST_PACKETS or length == 0:
        return None
    same = np.frombuffer(b"".join(p for p in payloads if len(p) == length), dtype=np.uint8).reshape(-1, length)
    rising = rising_numbers(same)
    reading = _likeliest_reading(_runs(same), rising, channels)
    if reading is None:
        return None
    numbers = numbers_in(same[:, reading.start :], reading.sample_type, reading.byte_order)
    found = _likeliest_arrangement(numbers, channels, {one.step for one in rising})
    counter, byte_order = _counter(rising, reading, numbers.shape[1] // found.channels)
    same_length = often > 0.98 * len(payloads)
    ones = (1.0,) * found.channels
    layout = PacketLayout(
        found.channels, reading.sample_type, byte_order, reading.start,
        numbers.shape[1] // found.channels if same_length else None, found.interleaved, counter,
        ones, (0.0,) * found.channels,
    )  # fmt: skip
    return LayoutGuess(layout, rising, channels is not None or found.shown)


def _runs(packets: Octets) -> Octets:
    """Some of many packets, in runs of consecutive ones."""
    if len(packets) <= MOST_PACKETS:
        return packets
    starts = np.linspace(0, len(packets) - RUN_PACKETS, MOST_PACKETS // RUN_PACKETS).astype(int)
    return np.concatenate([packets[start : start + RUN_PACKETS] for start in starts])


def _likeliest_reading(packets: Octets, rising: Sequence[Rising], channels: int | None) -> _Reading | None:
    skipped = _bits_of_skipped(packets, set().union(*(one.place for one in rising)))
    tried: list[_Reading] = []
    for start in range(min(LONGEST_HEAD_BYTES, packets.shape[1] - 1) + 1):
        head_bits = float(skipped[:start].sum())
        if tried and head_bits > min(reading.bits for reading in tried):
            break
        for sample_type, order, numbers in _readings_of(packets[:, start:]):
            if channels is None or numbers.shape[1] % channels == 0:
                bits = head_bits + _bits_by_place(numbers, sample_type) + _bits_of_oddities(packets[:, start:])
                tried.append(_Reading(start, sample_type, order, bits, numbers.shape[1]))
    if not tried:
        return None
    least = min(reading.bits for reading in tried)
    equal = [reading for reading in tried if reading.bits <= least + TIE_BITS * reading.numbers]
    # Among equals the widest: a high byte may have been 0 by chance. Unsigned before signed: it never was negative.
    return min(equal, key=lambda one: (-SAMPLE_BITS[one.sample_type], one.start, "uif".index(one.sample_type[0])))


def _readings_of(body: Octets) -> Iterator[tuple[str, ByteOrder, Numbers]]:
    """Everything that these bytes might be."""
    orders: tuple[ByteOrder, ...] = ("little", "big")
    for sample_type, bits in SAMPLE_BITS.items():
        many = body.shape[1] * 8 // bits
        if many * bits < body.shape[1] * 8 - 4 or many < (2 if bits == 12 else 1):  # half a byte may be left over
            continue
        for order in orders[: 1 if bits == 8 else 2]:
            numbers = numbers_in(body, sample_type, order)
            if sample_type != "f32" or _are_plausible(numbers):
                yield sample_type, order, numbers


def _are_plausible(floats: Numbers) -> bool:
    """Almost any four bytes are a number; those of a signal are neither vast nor next to nothing (our choice)."""
    size = np.abs(floats[floats != 0.0])
    return bool(np.isfinite(floats).all() and len(size) and ((size > 1e-12) & (size < 1e12)).all())


def _bits_of_skipped(packets: Octets, explained: set[int]) -> NDArray[np.float64]:
    """What each byte costs that is neither counter nor sample, shape (bytes,): nothing if it never changes, its entropy
    if it
    seldom does, as a flag, and more than all its bits if it is a riddle."""
    bits = np.zeros(packets.shape[1])
    for place in range(packets.shape[1]):
        share = np.bincount(packets[:, place], minlength=256) / len(packets)
        entropy = -float((share[share > 0] * np.log2(share[share > 0])).sum())
        if place not in explained and entropy > 0.0:
            bits[place] = RIDDLE_BITS if entropy > FLAG_BITS else 1.0 + entropy
    return bits


def _bits_of_oddities(body: Octets) -> float:
    """A byte that never changes and is neither 0 nor 255, the beginnings of small numbers, is
    hardly part of a sample."""
    first = body[0]
    return 0.5 * float(((np.ptp(body, axis=0) == 0) & (first != 0) & (first != 255)).sum())


def _bits_by_place(numbers: Numbers, sample_type: str) -> float:
    """Bits of a packet if each place in it is foretold from the same place of the packets before."""
    quantum = _quantum(numbers) if sample_type == "f32" else 1.0
    still = _bits(numbers - np.median(numbers, axis=0), quantum)
    moving = _bits(np.diff(numbers, axis=0, prepend=numbers[:1]), quantum)
    bits = np.minimum(still.mean(axis=0), moving.mean(axis=0))
    even = np.zeros(len(bits)) if sample_type == "f32" else _evenly_filled(numbers, sample_type)
    dead = np.ptp(numbers, axis=0) == 0.0
    return float((bits + EVEN_BITS * even + DEAD_BITS * dead + PLACE_BITS).sum())


def _bits(error: Numbers, quantum: float) -> Numbers:
    """Of each error, shape as given (time first), with a spread learnt from the errors before it."""
    size = np.abs(error) / quantum
    sums = np.cumsum(size, axis=0)
    before = np.concatenate([np.zeros((1, size.shape[1])), sums[:-1]])
    before[REMEMBERED:] -= before[:-REMEMBERED].copy()
    known = np.minimum(np.maximum(1, np.arange(len(size))), REMEMBERED)[:, None]
    spread = np.maximum(0.05, (before + 0.3) / known)
    bits: Numbers = -np.log2(np.tanh(0.5 / spread)) + size / spread * np.log2(np.e)
    return np.minimum(bits, MOST_BITS)


def _quantum(floats: Numbers) -> float:
    """The step in which most of the floats are written: that of an integer, or of their last digit."""
    fraction, exponent = np.frexp(floats[floats != 0.0])
    digits = np.abs(fraction * 2.0**24).astype(np.int64)
    lowest = np.log2((digits & -digits).astype(np.float64))
    return float(2.0 ** np.percentile(exponent - 24 + lowest, 25))


def _evenly_filled(numbers: Numbers, sample_type: str) -> NDArray[np.float64]:
    """1 for each place whose numbers once fill the range of their type evenly and in leaps, shape (places,)."""
    span = 2.0 ** SAMPLE_BITS[sample_type]
    low = -span / 2 if sample_type[0] == "i" else 0.0
    even = np.zeros(numbers.shape[1], dtype=bool)
    for window in np.array_split(numbers, max(1, len(numbers) // RUN_PACKETS)):
        quarter = np.floor((window - low) / span * 4)
        filled = np.all([(quarter == number).mean(axis=0) > EVEN_SHARE for number in range(4)], axis=0)
        leaps = np.median(np.abs(np.diff(window, axis=0)), axis=0) > 0.15 * span
        even |= filled & leaps
    return even.astype(np.float64)


@dataclass(frozen=True, slots=True)
class _Arrangement:
    """shown: another number of channels would have been worse, or was not possible."""

    channels: int
    interleaved: bool
    shown: bool


def _likeliest_arrangement(numbers: Numbers, channels: int | None, steps: set[int]) -> _Arrangement:
    """How many channels share the places of a packet, and in which order; shape (packets, places).

    steps: by which numbers rise with each packet: that of its first sample rises by the samples of one channel.
    """
    places = numbers.shape[1]
    wanted = [channels] if channels else [many for many in range(1, MOST_CHANNELS + 1) if places % many == 0]
    fineness = max(1e-30, float(np.median(np.abs(np.diff(numbers, axis=0))))) / 64.0
    tried: list[tuple[int, bool, float]] = []
    for many in wanted:
        numbered = places // many > 1 and places // many in steps
        for interleaved in (True, False) if 1 < many < places else (True,):
            bits = _bits_by_channel(arranged(numbers, many, interleaved), fineness)
            tried.append((many, interleaved, bits - NUMBERED_BITS * numbered))
    least = min(bits for *_, bits in tried)
    many, interleaved, bits = next(one for one in tried if one[2] <= least + TIE_BITS)
    others = [each for each in tried if each[0] != many]
    return _Arrangement(many, interleaved, not others or many > 1 or min(o[2] for o in others) > bits + TIE_BITS)


def arranged(numbers: Numbers, channels: int, interleaved: bool) -> Numbers:
    """Packets of numbers, shape (packets, places), as samples of channels, shape (samples, channels)."""
    if interleaved:
        return numbers.reshape(-1, channels)
    return numbers.reshape(len(numbers), channels, -1).transpose(0, 2, 1).reshape(-1, channels)


def _bits_by_channel(samples: Numbers, fineness: float) -> float:
    """Bits of a number, told as finely as this, if each is foretold from the one before in its channel, as far as that
    says anything."""
    centred = samples - np.median(samples, axis=0)
    before = np.concatenate([centred[:1], centred[:-1]])
    power = (before * before).sum(axis=0)
    carried = np.clip((before * centred).sum(axis=0) / np.where(power > 0, power, 1.0), -1.0, 1.0)
    error = centred - carried * before
    return float(_bits(error, fineness).mean())


def _counter(rising: Sequence[Rising], reading: _Reading, samples: int) -> tuple[CounterLayout | None, ByteOrder]:
    """The number from which lost packets are told, and the order of bytes in which all is read."""
    order = reading.byte_order
    before = [one for one in rising if one.at_byte + one.width_bytes <= reading.start]
    for one in sorted(before, key=lambda one: one.step != 1):
        if one.step not in (1, samples):
            continue
        if SAMPLE_BITS[reading.sample_type] == 8 and one.width_bytes > 1:
            order = one.byte_order  # samples of one byte have none of their own
        counts = "packets" if one.step == 1 else "samples"
        if one.byte_order == order or one.width_bytes == 1:
            return CounterLayout(one.at_byte, one.width_bytes, counts), order  # type: ignore[arg-type]
        lowest = one.at_byte + (one.width_bytes - 1 if one.byte_order == "big" else 0)
        return CounterLayout(lowest, 1, counts), order  # type: ignore[arg-type]
    return None, order
