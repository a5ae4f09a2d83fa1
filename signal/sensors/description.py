"""A sensor, described by a TOML file: how to find it, how to start it, what its packets mean.

A new sensor needs a file and no code. `assets/sensors/guide/every_key.toml` explains every key.
"""

from __future__ import annotations

import re
import tomllib
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, cast

from musclewood.assets.saying import say
from musclewood.signal.sensors.checked_table import CheckedTable, DescriptionFault

FORMAT = "musclewood-sensor/1"
# Payload of a notification at the smallest ATT_MTU of 23 (Bluetooth Core Specification, Vol 3 Part F): safe everywhere.
SMALLEST_PAYLOAD_BYTES = 20
LARGEST_PAYLOAD_BYTES = 514
SAMPLE_BITS = {
    "i8": 8, "u8": 8, "i12": 12, "u12": 12, "i16": 16, "u16": 16, "i24": 24, "u24": 24, "i32": 32, "u32": 32, "f32": 32,
}  # fmt: skip
COUNTER_BYTES = {"u8": 1, "u16": 2, "u24": 3, "u32": 4}
# Assigned numbers of the Bluetooth SIG: Battery Level, and the base on which short numbers stand.
BATTERY_LEVEL = "00002a19-0000-1000-8000-00805f9b34fb"
BLUETOOTH_BASE = "0000{}-0000-1000-8000-00805f9b34fb"


class SensorDescriptionError(Exception):
    """Whoever wrote the file can mend it. `faults` holds all of them, one line each."""

    def __init__(self, place: str, faults: list[DescriptionFault]) -> None:
        super().__init__(*(say("wrong.in-file", name=place, problem=fault.line) for fault in faults))
        self.place = place
        self.faults = tuple(faults)

    def __str__(self) -> str:
        return "\n".join(self.args)


@dataclass(frozen=True, slots=True)
class CounterLayout:
    """The running number in each packet; it wraps at 256 ** width_bytes."""

    at_byte: int
    width_bytes: int
    counts: Literal["packets", "samples"]

    @property
    def wraps_at(self) -> int:
        return int(256**self.width_bytes)


@dataclass(frozen=True, slots=True)
class PacketLayout:
    """Where in a packet the counter and the samples stand.

    samples_per_packet: per channel; None means as many as fit until the end of the packet.
    interleaved: True for 1 2 1 2 ..., False for all samples of channel 1, then all of channel 2.
    uv_per_count, zero_count: one per channel; µV = (count - zero_count) * uv_per_count.
    """

    channels: int
    sample_type: str
    byte_order: Literal["little", "big"]
    samples_at_byte: int
    samples_per_packet: int | None
    interleaved: bool
    counter: CounterLayout | None
    uv_per_count: tuple[float, ...]
    zero_count: tuple[float, ...]

    def bytes_of(self, frames: int) -> int:
        """Bytes of so many samples of every channel; an odd number of 12 bits ends in half a
        byte that means nothing."""
        return -(-frames * self.channels * SAMPLE_BITS[self.sample_type] // 8)

    def frames_in(self, length_bytes: int) -> int:
        """How many samples of every channel are whole in so many bytes."""
        return length_bytes * 8 // (self.channels * SAMPLE_BITS[self.sample_type])


@dataclass(frozen=True, slots=True)
class SensorDescription:
    """Everything the program knows about one kind of sensor."""

    id: str
    name: str
    advertised_name: str
    service: str
    data: str
    command: str
    start: bytes
    stop: bytes
    with_response: bool
    battery: str
    rate_hz: float
    envelope: bool
    labels: tuple[str, ...]
    packet: PacketLayout

    def matches(self, advertised_name: str, services: list[str]) -> bool:
        """Whether an advertisement may come from this kind of sensor.

        The name decides if the description gives one, since two kinds may share a service; else the service does.
        """
        if self.advertised_name:
            return advertised_name.startswith(self.advertised_name)
        return self.service in [service.lower() for service in services]


def read_description(path: Path) -> SensorDescription:
    """Read a sensor description.

    Raises SensorDescriptionError with every fault of the file, also when it cannot be read at all.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else say("wrong.text-not-utf")
        fault = DescriptionFault("file", say("sensor-text.unreadable", reason=reason), say("mend.path-and-utf"))
        raise SensorDescriptionError(str(path), [fault]) from error
    return parse_description(text, path.stem, place=str(path))


def parse_description(text: str, sensor_id: str, *, place: str = "sensor description") -> SensorDescription:
    """Check the text of a description; `sensor_id` is the name of its file without the ending.

    Raises SensorDescriptionError with every fault at once.
    """
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        fault = DescriptionFault("file", say("sensor-text.no-toml", error=error), say("mend.mend-line"))
        raise SensorDescriptionError(place, [fault]) from error
    faults: list[DescriptionFault] = []
    description = _description(CheckedTable(content, faults), sensor_id)
    if faults:
        raise SensorDescriptionError(place, faults)
    return description


def _description(top: CheckedTable, sensor_id: str) -> SensorDescription:
    top.choice("format", [FORMAT])
    name = top.text("name")
    gatt, signal, packet = top.table("gatt"), top.table("signal"), top.table("packet")
    advertised_name = top.text("advertised_name", default="")
    battery = _uuid(top, "battery", default=BATTERY_LEVEL) if top.has("battery") else ""
    top.close()
    service, data = _uuid(gatt, "service"), _uuid(gatt, "data")
    command = _uuid(gatt, "command", default=data)
    start, stop = _command(gatt, "start"), _command(gatt, "stop")
    with_response = gatt.flag("with_response", default=True)
    gatt.close()
    labels = signal.texts("channels", 1, 8)
    rate_hz = signal.number("rate_hz", 10.0, 10000.0)
    envelope = signal.choice("kind", ["raw", "envelope"]) == "envelope"
    uv_per_count = signal.numbers("uv_per_count", len(labels), -1e6, 1e6)
    if 0.0 in uv_per_count:
        signal.fault("uv_per_count", say("sensor-text.is", value=0), say("mend.uv-per-count"))
    zero_count = signal.numbers("zero_count", len(labels), -(2.0**32), 2.0**32, default=0.0)
    signal.close()
    layout = _packet_layout(packet, len(labels), uv_per_count, zero_count)
    return SensorDescription(
        id=sensor_id, name=name, advertised_name=advertised_name, service=service, data=data, command=command,
        start=start, stop=stop, with_response=with_response, battery=battery, rate_hz=rate_hz, envelope=envelope,
        labels=labels, packet=layout,
    )  # fmt: skip


def _packet_layout(
    table: CheckedTable, channels: int, uv_per_count: tuple[float, ...], zero_count: tuple[float, ...]
) -> PacketLayout:
    byte_order = table.choice("byte_order", ["little", "big"])
    sample_type = table.choice("sample_type", list(SAMPLE_BITS))
    largest = table.whole("largest_bytes", SMALLEST_PAYLOAD_BYTES, LARGEST_PAYLOAD_BYTES, SMALLEST_PAYLOAD_BYTES)
    samples_at = table.whole("samples_at_byte", 0, LARGEST_PAYLOAD_BYTES)
    to_the_end = table.flag("samples_to_the_end", default=False)
    samples = None if to_the_end else table.whole("samples", 1, LARGEST_PAYLOAD_BYTES)
    if to_the_end and table.has("samples"):
        table.fault("samples", say("sensor-text.contradicts", key="samples_to_the_end"), say("mend.keep-one"))
    interleaved = table.choice("order", ["interleaved", "by channel"], "interleaved") == "interleaved"
    counter = _counter_layout(table.table("counter")) if table.has("counter") else None
    table.close()
    layout = PacketLayout(
        channels, sample_type, cast(Literal["little", "big"], byte_order), samples_at, samples, interleaved, counter,
        uv_per_count, zero_count,
    )  # fmt: skip
    _check_room(table, layout, largest)
    return layout


def _counter_layout(table: CheckedTable) -> CounterLayout:
    at_byte = table.whole("at_byte", 0, LARGEST_PAYLOAD_BYTES)
    width = COUNTER_BYTES[table.choice("type", list(COUNTER_BYTES))]
    counts = table.choice("counts", ["packets", "samples"], "packets")
    table.close()
    return CounterLayout(at_byte, width, cast(Literal["packets", "samples"], counts))


def _check_room(table: CheckedTable, layout: PacketLayout, largest: int) -> None:
    """Faults that concern several keys: packets that cannot arrive whole, and a counter inside the samples."""
    needed = layout.samples_at_byte + layout.bytes_of(layout.samples_per_packet or 1)
    if needed > largest:
        problem = say("sensor-text.too-many-bytes", needed=needed, largest=largest)
        table.fault("samples", problem, say("mend.fewer-samples", needed=needed))
    counter = layout.counter
    if counter is not None and counter.at_byte + counter.width_bytes > layout.samples_at_byte:
        end = counter.at_byte + counter.width_bytes
        problem = say("sensor-text.counter-inside", first=counter.at_byte, last=end - 1)
        table.fault("counter.at_byte", problem, say("mend.samples-after-counter"))


def _uuid(table: CheckedTable, key: str, default: str | None = None) -> str:
    """A 16-bit number such as '180f' or a whole UUID, as a whole UUID in small letters."""
    text = table.text(key, default)
    if re.fullmatch(r"[0-9a-fA-F]{4}", text):
        return BLUETOOTH_BASE.format(text.lower())
    try:
        return str(uuid.UUID(text)) if text else ""
    except ValueError:
        table.fault(key, say("sensor-text.is-text", value=text), say("mend.uuid"))
        return ""


def _command(table: CheckedTable, key: str) -> bytes:
    text = table.text(key, "")
    try:
        command = bytes.fromhex(text)
    except ValueError:
        table.fault(key, say("sensor-text.is-text", value=text), say("mend.hexadecimal"))
        return b""
    if len(command) > SMALLEST_PAYLOAD_BYTES:
        table.fault(
            key, say("sensor-text.too-long", count=len(command)), say("mend.up-to", high=SMALLEST_PAYLOAD_BYTES)
        )
    return command
