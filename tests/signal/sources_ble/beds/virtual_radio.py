"""A Bluetooth that exists only inside one event loop: a backend for bleak, meant for virtual time."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Any

from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient
from bleak.backends.scanner import AdvertisementData, BaseBleakScanner
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import BleakBluetoothNotAvailableError, BleakBluetoothNotAvailableReason, BleakError
from fake_sensor import FakeSensor
from musclewood.signal.sensors.scanning import Radio


class Air:
    """Everything within reach. Tests change it while the program runs."""

    def __init__(self, *sensors: FakeSensor) -> None:
        self.sensors = list(sensors)
        self.unavailable: BleakBluetoothNotAvailableReason | None = None
        self.failure: Exception | None = None  # raised by whatever is tried next, until taken back
        self.hung = False  # the service takes a request to scan and never answers
        self.payload_limit = 514  # ATT_MTU - 3; longer notifications are cut, as over the real link
        self.clients: list[_VirtualClient] = []

    def check(self) -> None:
        if self.failure is not None:
            raise self.failure
        if self.unavailable is not None:
            raise BleakBluetoothNotAvailableError("virtual", self.unavailable)

    def drop_links(self) -> None:
        """The system notices that the connections are gone, and says so."""
        for client in list(self.clients):
            client.lose()

    def radio(self) -> Radio:
        """This air as the program's Bluetooth. bleak wants classes, each with a name."""
        scanner = type("VirtualScanner", (_VirtualScanner,), {"air": self})
        client = type("VirtualClient", (_VirtualClient,), {"air": self})
        return Radio(scanner, client)


class _VirtualScanner(BaseBleakScanner):
    air: Air

    def __init__(self, detection_callback: Any, service_uuids: Any, scanning_mode: str, **_: Any) -> None:
        super().__init__(detection_callback, service_uuids)
        self._task: asyncio.Task[None] | None = None

    async def start(self) -> None:
        self.air.check()
        if self.air.hung:
            await asyncio.sleep(1e6)
        self._task = asyncio.create_task(self._advertise())

    async def stop(self) -> None:
        assert self._task is not None
        self._task.cancel()
        self.air.check()

    async def _advertise(self) -> None:
        while True:
            for sensor in self.air.sensors:
                if sensor.reachable and self.air.unavailable is None and self.air.failure is None:
                    seen = AdvertisementData(
                        sensor.name, {}, {}, [sensor.description.service], None, sensor.strength_dbm, ()
                    )
                    device = self.create_or_update_device(sensor.address, sensor.address, sensor.name, sensor, seen)
                    self.call_detection_callbacks(device, seen)
            await asyncio.sleep(0.1)


class _VirtualClient(BaseBleakClient):
    air: Air

    def __init__(self, device: Any, **arguments: Any) -> None:
        super().__init__(device, **arguments)
        self._sensor: FakeSensor = device.details
        self._transmission: asyncio.Task[None] | None = None
        self._connected = False

    @property
    def name(self) -> str:
        return self._sensor.name

    @property
    def mtu_size(self) -> int:
        return self.air.payload_limit + 3

    @property
    def is_connected(self) -> bool:
        return self._connected

    async def connect(self, pair: bool, **_: Any) -> None:
        self.air.check()
        await asyncio.sleep(0.05)  # two connection intervals and the search for services
        await self._answer()
        self.services = _services(self._sensor)
        self._connected = True
        self.air.clients.append(self)

    async def disconnect(self) -> None:
        if self._connected:
            await asyncio.sleep(0.01)
            self.lose()
            self.air.check()

    def lose(self) -> None:
        if self._transmission is not None:
            self._transmission.cancel()
        self._connected = False
        self.air.clients.remove(self)
        if self._disconnected_callback is not None:
            self._disconnected_callback()

    async def start_notify(self, characteristic: BleakGATTCharacteristic, callback: Any, **_: Any) -> None:
        await self._answer()
        if characteristic.uuid == self._sensor.description.data:
            limit = self.air.payload_limit

            def deliver(packet: bytes) -> None:
                # A sensor out of reach is not heard; a Bluetooth that is gone delivers nothing either.
                if self.air.unavailable is None and self.air.failure is None:
                    callback(bytearray(packet[:limit]))

            self._transmission = asyncio.create_task(self._sensor.transmit(deliver))

    async def write_gatt_char(self, characteristic: BleakGATTCharacteristic, data: Any, response: bool) -> None:
        await self._answer()
        self._sensor.command(bytes(data))

    async def read_gatt_char(self, characteristic: BleakGATTCharacteristic, **_: Any) -> bytearray:
        await self._answer()
        return bytearray([self._sensor.battery_pct])

    async def _answer(self) -> None:
        """Wait for the sensor: for ever if it is out of reach, as a real connection attempt does."""
        self.air.check()
        while not self._sensor.reachable:
            await asyncio.sleep(0.05)

    async def stop_notify(self, characteristic: BleakGATTCharacteristic) -> None:
        raise BleakError("not needed: the program disconnects")

    async def pair(self, *_: Any, **__: Any) -> None:
        raise BleakError("not needed")

    async def unpair(self) -> None:
        raise BleakError("not needed")

    async def read_gatt_descriptor(self, *_: Any, **__: Any) -> bytearray:
        raise BleakError("not needed")

    async def write_gatt_descriptor(self, *_: Any, **__: Any) -> None:
        raise BleakError("not needed")


def _services(sensor: FakeSensor) -> BleakGATTServiceCollection:
    description = sensor.description
    services = BleakGATTServiceCollection()
    service = BleakGATTService(None, 1, description.service)
    services.add_service(service)
    wanted: list[tuple[str, list[Any]]] = [(description.data, ["notify"])]
    if description.command != description.data:
        wanted.append((description.command, ["write"]))
    if description.battery:
        wanted.append((description.battery, ["read"]))
    size: Callable[[], int] = lambda: 20
    for handle, (uuid, properties) in enumerate(wanted, start=2):
        services.add_characteristic(BleakGATTCharacteristic(None, handle, uuid, properties, size, service))
    return services
