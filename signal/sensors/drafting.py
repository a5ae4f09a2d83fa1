"""A description of a sensor that nobody described, drafted from what it was heard to send, for somebody to check.

What listening cannot tell is marked with CHECK: what a count is worth, what the channels are called, how the sensor is
started.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from musclewood.assets.saying import say
from musclewood.signal.sensors.description import SAMPLE_BITS, SMALLEST_PAYLOAD_BYTES, PacketLayout, parse_description
from musclewood.signal.sensors.layout_guess import FEWEST_PACKETS, LayoutGuess, guess_layout
from musclewood.signal.sensors.overhearing import Command, Heard, Offered, taking_commands
from musclewood.signal.sensors.packets import decode
from musclewood.signal.sensors.stream import open_stream
from musclewood.signal.stream.blocks import Samples

# Our choices: a rate is told as the roundest number that is as near as this, or as near as the arrivals allow.
ROUND_STEPS_HZ = (1000, 500, 250, 128, 100, 50, 25, 20, 10, 5, 1)
ROUND_WITHIN = 0.004
ENVELOPE_LAG_S, ENVELOPE_CORRELATION, SWAY_S = 0.02, 0.7, 0.5
WORD = "CHECK"


class NothingToDraft(Exception):
    """Nothing came, or nothing that can be read. The saying tells which, and what may help."""


@dataclass(frozen=True, slots=True)
class Told:
    """What somebody knows of the sensor and said; None and "" where nothing was said."""

    channels: int | None = None
    uv_per_count: float | None = None
    command: Command = field(default_factory=Command)


def draft(heard: Heard, told: Told) -> str:
    """The description as TOML with remarks.  Raises NothingToDraft."""
    data = _richest(heard, told)
    payloads, arrived_s = heard.payloads[data.uuid], heard.arrived_s[data.uuid]
    guess = guess_layout(payloads, told.channels)
    if guess is None:
        raise NothingToDraft(say("command.no-layout", packets=len(payloads), uuid=data.uuid))
    counts, rate_hz = _samples(guess, payloads), _rate_hz(guess.layout, payloads, arrived_s)
    envelope = is_envelope(counts, rate_hz)
    zeros = [0.0 if envelope else _zero_count(counts[:, channel], guess.layout) for channel in range(counts.shape[1])]
    body = [*_gatt(heard, data, told), *_signal(guess, told, rate_hz, envelope, zeros), *_packet(guess, payloads)]
    text = "\n".join([*_head(heard), *body]) + "\n"
    return "\n".join([*_tried(text, heard, data, guess), text])


def _richest(heard: Heard, told: Told) -> Offered:
    """The characteristic that sent most: the one with the samples."""
    if not heard.payloads:
        taking = ", ".join(one.uuid for one in taking_commands(heard.offered)) or "-"
        code = "started-in-vain" if told.command.start else "sends-nothing"
        raise NothingToDraft(say(f"command.{code}", name=_plain(heard.neighbour.name), uuids=taking))
    most = max(heard.payloads, key=lambda uuid: sum(map(len, heard.payloads[uuid])))
    return next(one for one in heard.offered if one.uuid == most)


def _samples(guess: LayoutGuess, payloads: list[bytes]) -> Samples:
    read = [packet for payload in payloads if (packet := decode(guess.layout, payload)) is not None]
    return np.concatenate([packet.samples_uv for packet in read])


def _rate_hz(layout: PacketLayout, payloads: list[bytes], arrived_s: list[float]) -> float:
    """Samples a second, by the numbers that the packets carry, else by how many came; as round as they allow."""
    read = [
        (packet, at_s) for payload, at_s in zip(payloads, arrived_s, strict=True) if (packet := decode(layout, payload))
    ]
    samples = np.array([len(packet.samples_uv) for packet, _ in read])
    if layout.counter is None:
        made = np.cumsum(samples).astype(float)
    else:
        numbers = np.array([packet.counter for packet, _ in read])
        risen = np.concatenate([[0], np.cumsum(np.diff(numbers) % layout.counter.wraps_at)]).astype(float)
        made = risen * (np.median(samples) if layout.counter.counts == "packets" else 1.0)
    times_s = np.array([at_s for _, at_s in read]) - read[0][1]
    slope, scatter = _on_time(made, times_s)
    within = max(ROUND_WITHIN * slope, 3.0 * scatter)
    near = (step * max(1, round(slope / step)) for step in ROUND_STEPS_HZ)
    return float(next((rate for rate in near if abs(rate - slope) <= within), round(slope, 2)))


def _on_time(made: Samples, times_s: Samples) -> tuple[float, float]:
    """Samples a second, and how sure: by the packets that were the least late, since none is ever early."""
    for _ in range(4):
        period_s, start_s = np.polyfit(made, times_s, 1)
        late_s = times_s - start_s - period_s * made
        least = late_s <= np.median(late_s)
        scatter = float(np.std(late_s[least])) / (float(np.std(made)) * len(made) ** 0.5 * period_s)
        if len(made) < 2 * FEWEST_PACKETS:
            break
        made, times_s = made[least], times_s[least]
    return 1.0 / float(period_s), scatter / float(period_s)


def is_envelope(counts: Samples, rate_hz: float) -> bool:
    """Whether neighbours in time are alike, as after smoothing; an EMG has turned over many times in 20 ms."""
    lag = max(1, round(ENVELOPE_LAG_S * rate_hz))
    sway = max(2, round(SWAY_S * rate_hz))
    liveliest = counts[:, np.argmax(counts.std(axis=0))]
    if len(liveliest) <= sway + lag:
        return False
    quick = liveliest - np.convolve(liveliest, np.ones(sway) / sway, mode="same")
    power = float(np.mean(quick * quick))
    return power > 0 and float(np.mean(quick[lag:] * quick[:-lag])) / power > ENVELOPE_CORRELATION


def _zero_count(counts: Samples, layout: PacketLayout) -> float:
    """The count that stands for 0 µV: half of a converter's range where samples are unsigned, else the middle if it is
    off."""
    middle, spread = float(np.median(counts)), float(np.median(np.abs(counts - np.median(counts))))
    if layout.sample_type == "f32":
        return 0.0
    if layout.sample_type[0] == "i" and abs(middle) <= 3.0 * max(1.0, spread):
        return 0.0
    halves = [2.0 ** (bits - 1) for bits in range(8, SAMPLE_BITS[layout.sample_type] + 1)]
    nearest = min(halves, key=lambda half: abs(half - middle))
    return nearest if abs(nearest - middle) <= max(0.05 * nearest, 3.0 * spread) else round(middle)


def _head(heard: Heard) -> Iterator[str]:
    name = _plain(heard.neighbour.name)
    kind = re.sub(r"[\s_\-:#]+(?=[0-9A-Fa-f]*\d)[0-9A-Fa-f]{2,}$", "", name)
    yield 'format = "musclewood-sensor/1"'
    yield f"name = {json.dumps(kind or 'Sensor', ensure_ascii=False)}  # {WORD}: what the patient reads"
    if name:
        note = f"  # {WORD}: the beginning that all of this kind share" if kind != name else ""
        yield f"advertised_name = {json.dumps(kind or name, ensure_ascii=False)}{note}"
    if heard.battery:
        yield 'battery = "2a19"'


def _gatt(heard: Heard, data: Offered, told: Told) -> Iterator[str]:
    yield from ("", "[gatt]", f'service = "{data.service}"', f'data = "{data.uuid}"')
    taking = taking_commands(heard.offered, told.command.to)
    if told.command.start and taking:
        yield f'command = "{taking[0].uuid}"'
        yield f'start = "{told.command.start.hex(" ")}"'
        if told.command.stop:
            yield f'stop = "{told.command.stop.hex(" ")}"'
        if "write" not in taking[0].can:
            yield "with_response = false"
    elif taking:
        yield f"# {WORD}: it takes commands at {', '.join(one.uuid for one in taking)}; it sends without any."


def _signal(guess: LayoutGuess, told: Told, rate_hz: float, envelope: bool, zeros: list[float]) -> Iterator[str]:
    channels = guess.layout.channels
    names = ", ".join(f'"{channel + 1}"' for channel in range(channels))
    unsure = "" if guess.channels_shown else f"  # {WORD}: nothing in the signal tells how many; say it with --channels"
    yield from ("", "[signal]", f'kind = "{"envelope" if envelope else "raw"}"', f"rate_hz = {rate_hz:g}")
    yield f"channels = [{names}]{unsure}"
    if told.uv_per_count is None:
        yield f"uv_per_count = 1  # {WORD}: what one count is worth stands in the sensor's papers"
    else:
        yield f"uv_per_count = {told.uv_per_count:g}"
    if any(zeros):
        yield (
            f"zero_count = [{', '.join(f'{zero:g}' for zero in zeros)}]"
            if len(set(zeros)) > 1
            else f"zero_count = {zeros[0]:g}"
        )


def _packet(guess: LayoutGuess, payloads: list[bytes]) -> Iterator[str]:
    layout, longest = guess.layout, max(map(len, payloads))
    yield from ("", "[packet]", f'byte_order = "{layout.byte_order}"')
    if layout.counter is not None:
        at, width, counts = layout.counter.at_byte, layout.counter.width_bytes, layout.counter.counts
        yield f'counter = {{ at_byte = {at}, type = "u{8 * width}", counts = "{counts}" }}'
    yield f"samples_at_byte = {layout.samples_at_byte}"
    yield f'sample_type = "{layout.sample_type}"'
    together = layout.samples_per_packet
    yield "samples_to_the_end = true" if together is None else f"samples = {together}"
    if layout.channels > 1:
        yield f'order = "{"interleaved" if layout.interleaved else "by channel"}"'
    if longest > SMALLEST_PAYLOAD_BYTES:
        yield f"largest_bytes = {longest}"


def _tried(text: str, heard: Heard, data: Offered, guess: LayoutGuess) -> Iterator[str]:
    """What was heard, and how the draft reads it: facts to hold the draft against."""
    payloads, arrived_s = heard.payloads[data.uuid], heard.arrived_s[data.uuid]
    stream = open_stream(parse_description(text, "draft"))
    blocks = [block for payload, at_s in zip(payloads, arrived_s, strict=True) for block in stream.feed(payload, at_s)]
    samples, counts = np.concatenate([block.samples_uv for block in blocks]), stream.counts
    yield (
        f"# A draft, from listening to {_plain(heard.neighbour.name) or heard.neighbour.address}. Hold it "
        "against the sensor's papers; then"
    )
    yield "# `musclewood check` it, and wear the sensor: rest must be quiet, and a squeeze must show at once."
    for uuid, came in heard.payloads.items():
        sizes = sorted(set(map(len, came)))
        lasted_s = max(1e-9, heard.arrived_s[uuid][-1] - heard.arrived_s[uuid][0])
        size = f"{sizes[0]}" if len(sizes) == 1 else f"{sizes[0]} to {sizes[-1]}"
        yield f"# {uuid} sent {len(came)} packets of {size} bytes, {(len(came) - 1) / lasted_s:.1f} a second."
    for number in guess.rising:
        last = number.at_byte + number.width_bytes - 1
        place = (
            f"byte {number.at_byte}"
            if last == number.at_byte
            else f"bytes {number.at_byte} to {last} ({number.byte_order})"
        )
        yield f"# In {place} a number rises by {number.step} with each packet."
    yield f"# Read with this draft: {counts.refused} packets refused, {counts.lost_samples} samples lost."
    for channel in range(samples.shape[1]):
        low, middle, high = np.percentile(np.abs(samples[:, channel]), [10, 50, 99])
        yield (
            f"# Channel {channel + 1}, µV if all is right: a tenth below {low:.4g}, half below "
            f"{middle:.4g}, nearly all below {high:.4g}."
        )


def _plain(name: str) -> str:
    """A name from the air, without anything that could end a line or move a cursor."""
    return "".join(letter if letter.isprintable() else "?" for letter in name).strip()
