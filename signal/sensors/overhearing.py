"""Listen to a sensor that has no description: what it offers, what it sends, when. Nothing is written to it unasked.

Time is the event loop's. Raises what the Bluetooth library raises; `trouble_of` explains it.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from musclewood.signal.sensors.description import BATTERY_LEVEL
from musclewood.signal.sensors.pairing import notified
from musclewood.signal.sensors.scanning import Radio, advertisements

if TYPE_CHECKING:
    from bleak import BleakClient
    from bleak.backends.characteristic import BleakGATTCharacteristic
    from bleak.backends.device import BLEDevice
    from bleak.backends.scanner import AdvertisementData

CONNECT_S, FAREWELL_S = 15.0, 2.0  # our choices


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Something within reach that says its name, or at least what it offers."""

    name: str
    address: str
    strength_dbm: int
    services: tuple[str, ...]
    device: BLEDevice = field(compare=False, repr=False)

    def is_called(self, wanted: str) -> bool:
        """Whether somebody means this one: its address, or the beginning of its name."""
        return self.address.lower() == wanted.lower() or self.name.lower().startswith(wanted.lower())


@dataclass(frozen=True, slots=True)
class Offered:
    """A characteristic and its service. `can`: read, write, write-without-response, notify, indicate."""

    service: str
    uuid: str
    can: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Heard:
    """payloads and arrived_s: of each characteristic that sent anything, in the order in which they came."""

    neighbour: Neighbour
    offered: tuple[Offered, ...]
    payloads: dict[str, list[bytes]]
    arrived_s: dict[str, list[float]]
    battery: bool


@dataclass(frozen=True, slots=True)
class Command:
    """Bytes that the sensor's papers name: `to` is the characteristic, "" the only one that takes commands."""

    start: bytes = b""
    stop: bytes = b""
    to: str = ""


def taking_commands(offered: tuple[Offered, ...], to: str = "") -> list[Offered]:
    """The characteristics that may take a command; standard ones, such as a name that can be changed, do not."""
    writable = [one for one in offered if {"write", "write-without-response"} & set(one.can)]
    own = [one for one in writable if not one.uuid.endswith("-0000-1000-8000-00805f9b34fb")]
    return [one for one in writable if one.uuid == to] if to else own


async def neighbours(seconds: float, radio: Radio) -> tuple[Neighbour, ...]:
    """Everything that can be connected to, nearest first."""
    found: dict[str, Neighbour] = {}

    def note(device: BLEDevice, advertisement: AdvertisementData) -> None:
        name = advertisement.local_name or device.name or ""
        services = tuple(uuid.lower() for uuid in advertisement.service_uuids)
        found[device.address] = Neighbour(name, device.address, advertisement.rssi, services, device)

    await advertisements(radio, note, asyncio.sleep(seconds))
    return tuple(sorted(found.values(), key=lambda one: -one.strength_dbm))


async def overhear(neighbour: Neighbour, seconds: float, command: Command, radio: Radio) -> Heard:
    """Connect, ask for everything that it sends by itself, and write all down for `seconds`."""
    payloads: dict[str, list[bytes]] = {}
    arrived_s: dict[str, list[float]] = {}
    gone = asyncio.Event()

    def note(uuid: str) -> Callable[[BleakGATTCharacteristic, bytearray], None]:
        def take(_: BleakGATTCharacteristic, payload: bytearray) -> None:
            payloads.setdefault(uuid, []).append(bytes(payload))
            arrived_s.setdefault(uuid, []).append(asyncio.get_running_loop().time())

        return take

    client = radio.client(neighbour.device, lambda _: gone.set(), CONNECT_S)
    try:
        async with asyncio.timeout(CONNECT_S):
            await client.connect()
        offered = _offered(client)
        battery = any(one.uuid == BATTERY_LEVEL for one in offered)
        for one in offered:
            if {"notify", "indicate"} & set(one.can) and one.uuid != BATTERY_LEVEL:
                characteristic = client.services.get_characteristic(one.uuid)
                assert characteristic is not None  # it was just listed
                await notified(client, characteristic, note(one.uuid), CONNECT_S)
        taking = taking_commands(offered, command.to)[:1]
        await _say(client, taking, command.start)
        with suppress(TimeoutError):
            async with asyncio.timeout(seconds):
                await gone.wait()
        with suppress(Exception):  # what was heard counts, however they part
            await _say(client, taking, command.stop)
    finally:
        with suppress(Exception):
            async with asyncio.timeout(FAREWELL_S):
                await client.disconnect()
    return Heard(neighbour, offered, payloads, arrived_s, battery)


def _offered(client: BleakClient) -> tuple[Offered, ...]:
    return tuple(
        Offered(service.uuid.lower(), one.uuid.lower(), tuple(one.properties))
        for service in client.services
        for one in service.characteristics
    )


async def _say(client: BleakClient, taking: list[Offered], what: bytes) -> None:
    for one in taking if what else ():
        await client.write_gatt_char(one.uuid, what, response="write" in one.can)
