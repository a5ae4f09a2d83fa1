"""The unmodified Bluetooth library of Linux against a fake service on a private message bus, in real time."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import bluez_bed
import numpy as np
import pytest
from bluez_bed import BluezBed
from fake_sensor import FakeSensor, numbered
from link_faults import bursts, lossy
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sensors.description import SensorDescription
from musclewood.signal.sensors.link import LinkSettings, LinkState
from musclewood.signal.sensors.scanning import scan, scan_aside
from musclewood.signal.sensors.troubles import Trouble
from musclewood.signal.sources.ble import BleSource
from musclewood.signal.stream.blocks import Block

pytestmark = pytest.mark.skipif(bool(bluez_bed.missing()), reason=bluez_bed.missing() or "usable")

QUICK = LinkSettings(scan_s=1.0, connect_s=2.0, silent_s=0.2, watchdog_s=0.6, farewell_s=0.8, give_up_s=60.0)


@pytest.fixture
def source(duo: SensorDescription) -> Iterator[BleSource]:
    source = BleSource(duo, settings=QUICK)
    yield source
    source.stop()


def until(condition: Callable[[], object], limit_s: float = 8.0) -> float:
    """Wait for it; returns how long it took."""
    begun_s = time.monotonic()
    while not condition():
        assert time.monotonic() - begun_s < limit_s, "it never happened"
        time.sleep(0.005)
    return time.monotonic() - begun_s


def collect(source: BleSource, samples: int, limit_s: float = 8.0) -> list[Block]:
    blocks: list[Block] = []

    def enough() -> bool:
        blocks.extend(source.poll(0.0))
        return sum(len(block.samples_uv) for block in blocks) >= samples

    until(enough, limit_s)
    return blocks


def assert_true_samples(blocks: list[Block], sensor: FakeSensor) -> None:
    """Each sample is one that the sensor made, at its own time since the first."""
    scale = sensor.description.packet.uv_per_count
    first = round(blocks[0].samples_uv[0, 0] / scale[0])
    offset = next(sample for sample in range(101) if numbered(sample, 0) == first)
    for block in blocks:
        start = round(block.start_s * sensor.description.rate_hz) + offset
        for row, values in enumerate(block.samples_uv):
            wanted = [numbered(start + row, channel) * scale[channel] for channel in range(len(scale))]
            np.testing.assert_allclose(values, wanted, atol=1e-9)


def test_scan_stream_battery_and_farewell(duo: SensorDescription, source: BleSource) -> None:
    near, far = FakeSensor(duo), FakeSensor(duo, address="C0:FF:EE:00:00:02", name="MW-Duo 0002", strength_dbm=-80)
    stranger = FakeSensor(duo, address="C0:FF:EE:00:00:03", name="Kettle")
    with BluezBed(far, stranger, near):
        result = scan(known_sensors().sensors, 0.5)
        assert [(found.name, found.strength_dbm) for found in result.found] == [
            ("MW-Duo 0001", -60),
            ("MW-Duo 0002", -80),
        ]
        assert result.trouble is None and result.found[0].description == duo
        source = BleSource(duo, address=result.found[1].address, settings=QUICK)
        source.start()
        blocks = collect(source, 1000)
        assert_true_samples(blocks, far)
        assert sum(block.lost for block in blocks) == 0
        assert source.status.state is LinkState.STREAMING and source.status.trouble is None
        assert source.status.battery_pct == 87 and source.status.sensor_name == "MW-Duo 0002"
        source.stop()
        assert source.status.state is LinkState.STOPPED
        assert far.commands == [duo.start, duo.stop] and near.commands == []


@pytest.mark.parametrize(
    ("bed", "trouble"),
    [
        ({"adapter": False}, Trouble.NO_ADAPTER),
        ({"powered": False}, Trouble.SWITCHED_OFF),
        ({"denied": True}, Trouble.NO_PERMISSION),
        ({"service": False}, Trouble.NO_SERVICE),
        ({}, Trouble.NOT_FOUND),
    ],
    ids=lambda value: value.value if isinstance(value, Trouble) else "",
)
def test_each_reason_for_finding_nothing_has_its_own_sentence(
    bed: dict[str, bool], trouble: Trouble, duo: SensorDescription
) -> None:
    with BluezBed(**bed):
        future = scan_aside([duo], 0.2)
        result = future.result(10.0)
        assert result.found == () and result.trouble is trouble
        source = BleSource(duo, settings=LinkSettings(scan_s=0.1, give_up_s=0.5, first_wait_s=0.05))
        source.start()
        until(lambda: source.ended)
        assert source.failure is not None and source.failure.trouble == trouble.value
        source.stop()


def test_no_message_bus_at_all(duo: SensorDescription, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/nothing")
    assert scan([duo], 0.1).trouble is Trouble.NO_SERVICE


@pytest.mark.parametrize("faults", [lossy(0.05), bursts(every=40, held=8, period_s=0.01)], ids=["5 % loss", "bursts"])
def test_faults_over_the_real_library(
    duo: SensorDescription, source: BleSource, faults: Callable[[int], list[float]]
) -> None:
    sensor = FakeSensor(duo, faults=faults)
    with BluezBed(sensor):
        source.start()
        blocks = collect(source, 2000)
        source.stop()
    assert_true_samples(blocks, sensor)
    lost, total = sum(b.lost for b in blocks), sum(b.lost + len(b.samples_uv) for b in blocks)
    assert lost == 0 if "bursts" in faults.__qualname__ else 0.0 < lost / total < 0.15


def test_power_loss_and_return(duo: SensorDescription, source: BleSource) -> None:
    sensor, sent_s = FakeSensor(duo), list[float]()
    encode = sensor.packet
    sensor.packet = lambda number: sent_s.append(time.monotonic()) or encode(number)  # type: ignore[method-assign, func-returns-value]
    with BluezBed(sensor) as bed:
        source.start()
        before = collect(source, 300)
        bed.do(sensor.switch_off)
        bed.do(lambda: bed.bluez.disconnect(sensor))
        until(lambda: source.status.trouble is Trouble.LOST)
        before += source.poll(0.0)
        last = len(sent_s)
        bed.do(lambda: sensor.switch_on(bed.now_s()))
        assert until(lambda: source.status.state is LinkState.STREAMING) < 3.0
        after = collect(source, 300)
        away_s = sent_s[last] - sent_s[last - 1]
        assert after[0].lost == pytest.approx(1000 * away_s - 10, abs=50)  # within what a busy computer delays a packet
        assert sum(block.lost for block in after[1:]) == 0
        source.stop()


def test_the_service_vanishes_without_a_word_and_comes_back(duo: SensorDescription, source: BleSource) -> None:
    with BluezBed(FakeSensor(duo)) as bed:
        source.start()
        collect(source, 200)
        bed.wait(bed.bluez.vanish())
        until(lambda: source.status.trouble is Trouble.NO_DATA)
        until(lambda: source.status.trouble is Trouble.NO_SERVICE)
        source.poll(0.0)
        bed.start_service()
        assert until(lambda: source.status.state is LinkState.STREAMING) < 3.0
        assert collect(source, 100)[0].lost > 0
        source.stop()


def test_the_adapter_is_switched_off_and_on(duo: SensorDescription, source: BleSource) -> None:
    with BluezBed(FakeSensor(duo)) as bed:
        source.start()
        collect(source, 200)
        bed.do(lambda: bed.bluez.power(False))
        until(lambda: source.status.trouble is Trouble.SWITCHED_OFF)
        source.poll(0.0)
        bed.do(lambda: bed.bluez.power(True))
        assert until(lambda: source.status.state is LinkState.STREAMING) < 3.0
        assert collect(source, 100)[0].lost > 0
        source.stop()


def test_the_message_bus_dies(duo: SensorDescription, source: BleSource) -> None:
    with BluezBed(FakeSensor(duo)) as bed:
        source.start()
        collect(source, 200)
        bed.end_bus()
        until(lambda: source.status.trouble is Trouble.NO_SERVICE)
        source.stop()


@pytest.mark.parametrize("after_s", [0.0, 0.02, 0.15, 0.25, 0.5])
def test_stop_in_any_state_ends_the_thread_and_lets_the_sensor_go(duo: SensorDescription, after_s: float) -> None:
    sensor = FakeSensor(duo)
    with BluezBed(sensor):
        source = BleSource(duo, settings=QUICK)
        source.start()
        thread = source._thread
        assert thread is not None
        time.sleep(after_s)
        source.stop()
        assert not thread.is_alive()  # how soon, virtual time tells
        assert sensor.commands in ([], [duo.start, duo.stop]) and not sensor.streaming
        source.stop()  # once more does no harm


@pytest.mark.parametrize("trouble", ["unreachable", "no service", "waiting"])
def test_stop_while_in_trouble(duo: SensorDescription, trouble: str) -> None:
    sensor = FakeSensor(duo)
    with BluezBed(sensor, service=trouble != "no service") as bed:
        source = BleSource(duo, settings=QUICK)
        source.start()
        if trouble == "unreachable":  # found, then gone while connecting
            until(lambda: source.status.state is LinkState.CONNECTING)
        if trouble == "waiting":
            collect(source, 100)
            bed.wait(bed.bluez.vanish())
        sensor.reachable = False
        time.sleep(0.3)
        thread = source._thread
        source.stop()
        assert thread is not None and not thread.is_alive()


def test_a_new_sensor_needs_only_a_file(tmp_path: Path) -> None:
    """Big-endian 24 bit, three channels one after the other, packets of any length, a counter of samples."""
    guide = Path(__file__).parents[3] / "assets" / "sensors" / "guide" / "every_key.toml"
    (tmp_path / "trio.toml").write_text(guide.read_text(encoding="utf-8"), encoding="utf-8")
    catalogue = known_sensors(tmp_path)
    trio = catalogue.sensor("trio")
    assert trio is not None
    sensor = FakeSensor(trio, samples_per_packet=7)
    with BluezBed(sensor):
        (found,) = scan(catalogue.sensors, 0.3).found
        source = BleSource(found.description, address=found.address)
        source.start()
        blocks = collect(source, 300)
        source.stop()
    assert blocks[0].samples_uv.shape == (7, 3)
    assert_true_samples(blocks, sensor)


def test_another_program_finds_the_sensor_unmodified(duo: SensorDescription) -> None:
    program = (
        "from musclewood.signal.sensors.catalogue import known_sensors\n"
        "from musclewood.signal.sensors.scanning import scan\n"
        "print([found.name for found in scan(known_sensors().sensors, 0.4).found])"
    )
    bed = Path(bluez_bed.__file__)
    run = subprocess.run(
        [sys.executable, str(bed), "--sensor", "one-channel-envelope", "--", sys.executable, "-c", program],
        capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert (run.returncode, run.stdout.strip()) == (0, "['MW-Solo 0001']"), run.stderr
