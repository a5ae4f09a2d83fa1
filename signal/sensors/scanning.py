"""Find the sensors within reach."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass, field
from threading import Thread
from typing import TYPE_CHECKING

from musclewood.signal.sensors.description import SensorDescription
from musclewood.signal.sensors.troubles import Trouble, trouble_of

if TYPE_CHECKING:  # the Bluetooth library takes its time; the launcher must not wait for it
    from bleak import BleakClient, BleakScanner
    from bleak.backends.client import BaseBleakClient
    from bleak.backends.device import BLEDevice
    from bleak.backends.scanner import AdvertisementData, BaseBleakScanner

SCAN_S = 5.0
ANSWER_S = 3.0  # our choice: a Bluetooth service that works answers within a fraction of this
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Radio:
    """Which Bluetooth to use: None is that of the operating system; tests put another in its place."""

    scanner_backend: type[BaseBleakScanner] | None = None
    client_backend: type[BaseBleakClient] | None = None

    def scanner(self, on_advertisement: Callable[[BLEDevice, AdvertisementData], None]) -> BleakScanner:
        from bleak import BleakScanner

        return BleakScanner(on_advertisement, backend=self.scanner_backend)

    def client(
        self, device: BLEDevice, on_disconnected: Callable[[BleakClient], None], timeout_s: float
    ) -> BleakClient:
        from bleak import BleakClient

        return BleakClient(device, on_disconnected, timeout=timeout_s, backend=self.client_backend)


@dataclass(frozen=True, slots=True)
class FoundSensor:
    """A sensor within reach; `address` finds the same one again on this computer."""

    description: SensorDescription
    address: str
    name: str
    strength_dbm: int
    device: BLEDevice = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class ScanResult:
    """found: nearest first. trouble: why nothing was found, None if something was."""

    found: tuple[FoundSensor, ...]
    trouble: Trouble | None


def scan(sensors: Sequence[SensorDescription], seconds: float = SCAN_S, radio: Radio = Radio()) -> ScanResult:
    """Look around for `seconds`; blocks as long. Never raises for anything that the patient could mend."""
    return asyncio.run(look_around(sensors, seconds, radio))


def scan_aside(
    sensors: Sequence[SensorDescription], seconds: float = SCAN_S, radio: Radio = Radio()
) -> Future[ScanResult]:  # fmt: skip
    """The same in a thread of its own: a screen asks `done()` once a frame."""
    future: Future[ScanResult] = Future()

    def work() -> None:
        try:
            future.set_result(scan(sensors, seconds, radio))
        except BaseException as error:  # noqa: BLE001 it reaches whoever asks for the result
            future.set_exception(error)

    Thread(target=work, name="sensor scan", daemon=True).start()
    return future


async def look_around(sensors: Sequence[SensorDescription], seconds: float, radio: Radio) -> ScanResult:
    """See `scan`."""
    found: dict[str, FoundSensor] = {}

    def note(device: BLEDevice, advertisement: AdvertisementData) -> None:
        sensor = _recognise(sensors, device, advertisement)
        if sensor is not None:
            found[device.address] = sensor

    try:
        await advertisements(radio, note, asyncio.sleep(seconds))
    except Exception as error:  # noqa: BLE001 each system's Bluetooth raises errors of its own
        _log.info("scan failed: %r", error)
        return ScanResult((), trouble_of(error))
    nearest_first = sorted(found.values(), key=lambda sensor: -sensor.strength_dbm)
    return ScanResult(tuple(nearest_first), None if found else Trouble.NOT_FOUND)


async def find_one(sensor: SensorDescription, address: str | None, seconds: float, radio: Radio) -> FoundSensor | None:
    """The first sensor of this kind (and address, if given) that shows itself within `seconds`, or None.

    Raises what the Bluetooth library raises; `trouble_of` explains it.
    """
    first: asyncio.Future[FoundSensor] = asyncio.get_running_loop().create_future()

    def note(device: BLEDevice, advertisement: AdvertisementData) -> None:
        found = _recognise([sensor], device, advertisement)
        if found is not None and address in (None, found.address) and not first.done():
            first.set_result(found)

    async def shown() -> None:
        with suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                await asyncio.shield(first)

    await advertisements(radio, note, shown())
    return first.result() if first.done() else None


async def advertisements(radio: Radio, note: Callable[[BLEDevice, AdvertisementData], None], until: object) -> None:
    """Listen to advertisements until the awaitable `until` is over."""
    waiting = asyncio.ensure_future(until)  # type: ignore[call-overload]
    try:
        scanner = radio.scanner(note)
        await _start(scanner)
        try:
            await waiting
        finally:
            # The scan is over either way; an error here must not hide a sensor found, nor a cancellation.
            with suppress(Exception):
                async with asyncio.timeout(ANSWER_S):
                    await scanner.stop()
    finally:
        waiting.cancel()


async def _start(scanner: BleakScanner) -> None:
    """A service that is there but never answers is as good as none: ConnectionError instead of TimeoutError."""
    try:
        async with asyncio.timeout(ANSWER_S):
            await scanner.start()
    except TimeoutError as error:
        raise ConnectionError("the Bluetooth service does not answer") from error


def _recognise(
    sensors: Sequence[SensorDescription], device: BLEDevice, advertisement: AdvertisementData
) -> FoundSensor | None:
    name = advertisement.local_name or device.name or ""
    for sensor in sensors:
        if sensor.matches(name, advertisement.service_uuids):
            return FoundSensor(sensor, device.address, name or sensor.name, advertisement.rssi, device)
    return None
