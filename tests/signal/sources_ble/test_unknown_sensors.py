"""A sensor that nobody described is listened to, and the draft reads from its packets what it measured.

Over the real Bluetooth library of Linux against the fake service, all sensors at once, in real time. The sensors'
layouts are invented; their ingredients are common practice, no source: a counter of one byte before samples of 24 bits,
two samples of 12 bits in three bytes, IEEE 754 floats behind a time stamp, channels in turns.
"""

from __future__ import annotations

import asyncio
import importlib.resources
import struct
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import bluez_bed
import numpy as np
import pytest
from bluez_bed import BluezBed
from fake_sensor import FakeSensor
from link_faults import Faults, clean, lossy
from musclewood.signal.sensors.description import SAMPLE_BITS, SensorDescription, parse_description
from musclewood.signal.sensors.drafting import NothingToDraft, Told, draft
from musclewood.signal.sensors.layout_guess import guess_layout
from musclewood.signal.sensors.link import LinkSettings, LinkState
from musclewood.signal.sensors.overhearing import Command, Heard, neighbours, overhear
from musclewood.signal.sensors.packets import decode
from musclewood.signal.sensors.scanning import Radio
from musclewood.signal.sensors.troubles import Trouble
from musclewood.signal.sources.ble import BleSource
from scipy import signal as scipy_signal

pytestmark = pytest.mark.skipif(bool(bluez_bed.missing()), reason=bluez_bed.missing() or "usable")

SHIPPED = importlib.resources.files("musclewood.assets").joinpath("sensors")
INVENTED = """
format = "musclewood-sensor/1"
name = "Invented"
advertised_name = "{name}"
[gatt]
service = "b5f90000-6d75-7363-6c65-776f6f64{number:04}"
data = "b5f90001-6d75-7363-6c65-776f6f64{number:04}"
[signal]
kind = "raw"
{signal}
[packet]
{packet}
"""
FINE = (  # 24 bits, the most significant byte first, behind a status byte and a counter of one byte
    'rate_hz = 500\nchannels = ["1"]\nuv_per_count = 0.02',
    'byte_order = "big"\ncounter = { at_byte = 1, type = "u8" }\nsamples_at_byte = 2\nsample_type = "i24"\nsamples = 6',
)
PACKED = (  # 12 bits around the middle of a converter's range
    'rate_hz = 800\nchannels = ["1", "2"]\nuv_per_count = 1.5\nzero_count = 2048',
    """byte_order = "little"
counter = { at_byte = 0, type = "u16", counts = "samples" }
samples_at_byte = 2
sample_type = "u12"
samples = 6""",
)
STAMPED = (  # floats behind four bytes of microseconds
    'rate_hz = 250\nchannels = ["1", "2"]\nuv_per_count = 1000',
    'byte_order = "little"\nsamples_at_byte = 4\nsample_type = "f32"\nsamples = 2\norder = "by channel"',
)
ON_TIME_S = 0.02


class StampedSensor(FakeSensor):
    """Writes when its packet was made, in microseconds."""

    def packet(self, number: int) -> bytes:
        stamp = round(number * self.period_s * 1e6) % 2**32
        return struct.pack("<I", stamp) + super().packet(number)[4:]


class Worn:
    """An EMG by rule: noise between 20 and 200 Hz, each channel squeezed at times of its own (value in counts)."""

    def __init__(self, sensor: SensorDescription, strong: float, weak: float) -> None:
        chance, channels, rate_hz = np.random.default_rng(3), len(sensor.labels), sensor.rate_hz
        self.envelope = sensor.envelope
        noise = chance.normal(size=(round(40 * rate_hz), channels))
        time_s = np.arange(len(noise))[:, None] / rate_hz
        level = np.where((time_s / 0.9 + 0.37 * np.arange(channels)) % 1 < 0.5, strong, weak)
        if self.envelope:
            level = scipy_signal.filtfilt(*scipy_signal.butter(1, 3, fs=rate_hz), level, axis=0)
            self.counts = np.rint(np.maximum(0.0, level + 0.02 * weak * noise)).astype(int)
            return
        band = scipy_signal.butter(2, [20, min(200, 0.4 * rate_hz)], "bandpass", fs=rate_hz)
        muscle = scipy_signal.lfilter(*band, noise, axis=0)
        zero = np.asarray(sensor.packet.zero_count)
        self.counts = np.rint(muscle / muscle.std(axis=0) * level + zero).astype(int)

    def __call__(self, sample: int, channel: int) -> int:
        return int(self.counts[sample % len(self.counts), channel])


def shipped(name: str) -> SensorDescription:
    return parse_description(SHIPPED.joinpath(f"{name}.toml").read_text(encoding="utf-8"), name)


def invented(name: str, number: int, parts: tuple[str, str]) -> SensorDescription:
    return parse_description(INVENTED.format(name=name, number=number, signal=parts[0], packet=parts[1]), name)


def the_sensors(faults: Faults = clean) -> list[FakeSensor]:
    kinds: list[tuple[type[FakeSensor], SensorDescription, float, float]] = [
        (FakeSensor, shipped("two-channel-raw"), 900, 30),
        (FakeSensor, shipped("one-channel-envelope"), 400, 8),
        (FakeSensor, invented("Fine", 11, FINE), 40000, 300),
        (FakeSensor, invented("Packed", 12, PACKED), 300, 9),
        (StampedSensor, invented("Stamped", 13, STAMPED), 700, 12),
    ]
    return [
        kind(each, Worn(each, strong, weak), faults, address=f"C0:FF:EE:00:00:{number:02}", strength_dbm=-50 - number)
        for number, (kind, each, strong, weak) in enumerate(kinds)
    ]


def listen_to(sensors: Sequence[FakeSensor], seconds: float) -> list[Heard]:
    """To all at once."""

    async def listen() -> list[Heard]:
        near = {one.address: one for one in await neighbours(0.3, Radio())}
        told = [Command(sensor.description.start, sensor.description.stop) for sensor in sensors]
        return await asyncio.gather(
            *(overhear(near[s.address], seconds, c, Radio()) for s, c in zip(sensors, told, strict=True))
        )

    with BluezBed(*sensors):
        return asyncio.run(listen())


def check(sensor: FakeSensor, heard: Heard) -> SensorDescription:
    """The draft, after every packet was held against what the sensor measured."""
    truth = sensor.description
    text = draft(heard, Told(uv_per_count=truth.packet.uv_per_count[0], command=Command(truth.start, truth.stop)))
    drafted = parse_description(text, "draft")
    scale, zero = np.asarray(truth.packet.uv_per_count), np.asarray(truth.packet.zero_count)
    for number in range(40):
        packet, first = decode(drafted.packet, sensor.packet(number)), number * sensor.samples_per_packet
        measured = [
            [sensor.signal(first + row, channel) for channel in range(len(truth.labels))]
            for row in range(sensor.samples_per_packet)
        ]
        assert packet is not None, text
        np.testing.assert_allclose(
            packet.samples_uv, (np.array(measured) - zero) * scale, rtol=1e-6, atol=1e-9, err_msg=text
        )
    assert drafted.envelope == truth.envelope, text
    if sensor.late_s < ON_TIME_S:  # else this computer was too busy to be a sensor
        assert drafted.rate_hz == truth.rate_hz, text
    assert drafted.rate_hz == pytest.approx(truth.rate_hz, rel=0.1), text
    assert (drafted.service, drafted.data, drafted.battery) == (truth.service, truth.data, truth.battery), text
    assert (drafted.start, drafted.stop) == (truth.start, truth.stop), text
    assert drafted.matches(sensor.name, []) and truth.advertised_name.startswith(drafted.advertised_name), text
    if truth.packet.counter is not None:
        assert drafted.packet.counter is not None and drafted.packet.counter.counts == truth.packet.counter.counts, text
    return drafted


@pytest.fixture(scope="module")
def five(full: bool) -> list[tuple[FakeSensor, Heard]]:
    """All five, listened to for three seconds; for half a minute at full size, with packets lost."""
    sensors = the_sensors(lossy(0.02) if full else clean)
    return list(zip(sensors, listen_to(sensors, 30.0 if full else 3.0), strict=True))


@pytest.mark.parametrize("number", range(5), ids=["raw pairs", "envelope", "24 bits", "12 bits", "floats and stamps"])
def test_the_draft_reads_what_was_measured(number: int, five: list[tuple[FakeSensor, Heard]]) -> None:
    check(*five[number])


EVERY_TYPE = [(sample_type, order) for sample_type in SAMPLE_BITS for order in ("little", "big")]


@pytest.mark.parametrize("number", range(len(EVERY_TYPE)), ids=["-".join(each) for each in EVERY_TYPE])
def test_every_type_of_sample_is_told_by_its_packets_alone(number: int, full: bool) -> None:
    """No radio: three channels (at full size 1 to 3) behind a byte that never changes and a counter."""
    if number % 4 and not full:
        pytest.skip("every fourth at the default size")
    sample_type, order = EVERY_TYPE[number]
    bits = 24 if sample_type == "f32" else SAMPLE_BITS[sample_type]
    zero = 2 ** (bits - 1) if sample_type[0] == "u" else 0
    for channels in (1, 2, 3) if full else (3,):
        names = ", ".join(f'"{channel}"' for channel in range(channels))
        arrangement = ("interleaved", "by channel")[(number // 4 + channels) % 2]
        signal = f"rate_hz = 1000\nchannels = [{names}]\nuv_per_count = 1\nzero_count = {zero}"
        packet = f'byte_order = "{order}"\nsample_type = "{sample_type}"\norder = "{arrangement}"\nsamples = 6\n'
        packet += 'counter = { at_byte = 1, type = "u8" }\nsamples_at_byte = 2\nlargest_bytes = 80'
        truth = invented("Any", 14, (signal, packet))
        strong = 2 ** (bits - 1) / 6
        sensor = FakeSensor(truth, Worn(truth, strong, max(1.5, strong / 40)))
        guess = guess_layout([sensor.packet(made) for made in range(1200 if full else 400)])
        assert guess is not None
        for made in range(0, 400, 37):
            read, meant = decode(guess.layout, sensor.packet(made)), decode(truth.packet, sensor.packet(made))
            assert read is not None and meant is not None, guess
            np.testing.assert_allclose(read.samples_uv, meant.samples_uv + zero, err_msg=str(guess))


def test_what_listening_cannot_tell_is_marked(five: list[tuple[FakeSensor, Heard]]) -> None:
    text = draft(five[2][1], Told())
    unsure = [line.split(" =")[0] for line in text.splitlines() if "CHECK" in line and not line.startswith("#")]
    assert unsure == ["name", "advertised_name", "uv_per_count"]
    assert "rises by 1 with each packet" in text and "0 packets refused" in text


def test_a_sensor_that_waits_for_its_command_is_not_guessed_at(duo: SensorDescription) -> None:
    """Bytes that nobody knows might do anything to it: none is written, and the line says what is needed."""
    sensor = FakeSensor(duo)
    with BluezBed(sensor):
        heard = asyncio.run(_unstarted(sensor))
    assert sensor.commands == []
    with pytest.raises(NothingToDraft, match=rf"sends nothing.*commands at {duo.command}.*--start"):
        draft(heard, Told())


async def _unstarted(sensor: FakeSensor) -> Heard:
    (near,) = await neighbours(0.2, Radio())
    assert near.is_called(sensor.name.lower()) and near.is_called(sensor.address)
    return await overhear(near, 0.2, Command(), Radio())


@pytest.mark.full_size
def test_the_command_drafts_what_the_program_then_plays(tmp_path: Path, full: bool) -> None:
    """From the command line to the very layout that was written by hand, in a process of its own."""
    if not full:
        pytest.skip("two programs and eight seconds; the same without a command line stands above")
    bed, drafted = Path(bluez_bed.__file__), tmp_path / "drafted.toml"
    program = [sys.executable, "-m", "musclewood.games"]
    told = ["--start", "01", "--stop", "00", "--channels", "2", "--uv-per-count", "0.1", "--seconds", "8"]
    run = subprocess.run(
        [sys.executable, str(bed), "--sensor", "two-channel-raw", "--", *program, "sensors", "--describe", "MW-Duo",
        *told],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip
    drafted.write_text(run.stdout, encoding="utf-8")
    assert subprocess.run([*program, "check", str(drafted)], check=False, timeout=60).returncode == 0
    mended = parse_description(run.stdout, "drafted")
    assert mended.packet == shipped("two-channel-raw").packet and mended.rate_hz == 1000


@pytest.mark.parametrize("said_yes", [True, False])
def test_a_sensor_that_wants_to_be_paired(solo: SensorDescription, said_yes: bool) -> None:
    """It is paired when it asks for that; if nobody says yes, the trouble is told by its name."""
    sensor = FakeSensor(solo)
    sensor.wants_pairing, sensor.pairs = True, said_yes
    with BluezBed(sensor):
        source = BleSource(solo, settings=LinkSettings(scan_s=1.0, connect_s=8.0, first_wait_s=0.05, give_up_s=30.0))
        source.start()
        begun_s = time.monotonic()
        while time.monotonic() - begun_s < 20.0 and not (
            source.status.state is LinkState.STREAMING if said_yes else source.status.state is LinkState.WAITING
        ):
            time.sleep(0.01)
        assert source.status.trouble is (None if said_yes else Trouble.UNPAIRED)
        source.stop()
    assert (sensor.sent > 0) is said_yes and not sensor.wants_pairing is said_yes
