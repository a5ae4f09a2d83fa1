"""A Bluetooth service that exists only on a private message bus: bleak's real Linux backend talks to it unchanged.

It answers what bleak asks of `org.bluez` (BlueZ's D-Bus API), for one adapter and any number of fake sensors.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress
from typing import Any

from dbus_fast import Message, MessageType, Variant
from dbus_fast.aio import MessageBus
from fake_sensor import FakeSensor

ADAPTER, DEVICE = "org.bluez.Adapter1", "org.bluez.Device1"
SERVICE, CHARACTERISTIC = "org.bluez.GattService1", "org.bluez.GattCharacteristic1"
MANAGER, PROPERTIES = "org.freedesktop.DBus.ObjectManager", "org.freedesktop.DBus.Properties"
HCI = "/org/bluez/hci0"

Objects = dict[str, dict[str, dict[str, Variant]]]


class FakeBluez:
    """Lives in the loop in which `start` runs; all other methods must be called there too."""

    def __init__(self, *sensors: FakeSensor, adapter: bool = True, powered: bool = True) -> None:
        self.sensors = list(sensors)
        self._bus: MessageBus | None = None
        self._objects: Objects = {}
        self._tasks: set[asyncio.Task[None]] = set()
        self._transmissions: dict[str, asyncio.Task[None]] = {}
        self._discovery: asyncio.Task[None] | None = None
        if adapter:
            self._objects[HCI] = {
                ADAPTER: {"Address": _v("00:00:00:00:00:01"), "Powered": _v(powered), "Roles": _v(["central"])}
            }

    async def start(self, address: str) -> None:
        self._bus = await MessageBus(bus_address=address).connect()
        self._bus.add_message_handler(self._answer)
        await self._bus.request_name("org.bluez")
        for path, interfaces in self._objects.items():  # a service that comes back announces what it has
            self._emit("/", MANAGER, "InterfacesAdded", "oa{sa{sv}}", [path, interfaces])

    async def vanish(self) -> None:
        """The service dies: nobody is told that a device disconnected."""
        self._silence()
        if self._bus is not None:
            bus, self._bus = self._bus, None
            bus.disconnect()
            with suppress(EOFError):  # the bus itself was gone before
                await bus.wait_for_disconnect()
        for interfaces in self._objects.values():
            if DEVICE in interfaces:
                interfaces[DEVICE]["Connected"] = _v(False)

    def power(self, on: bool) -> None:
        """The adapter is switched; off, it loses every connection and says so."""
        if not on:
            self._silence()
            for sensor in self.sensors:
                self.disconnect(sensor)
        self._change(HCI, ADAPTER, Powered=on)

    def disconnect(self, sensor: FakeSensor) -> None:
        """The link to this sensor is found to be gone."""
        path = _path(sensor)
        if (task := self._transmissions.pop(path, None)) is not None:
            task.cancel()
        if path in self._objects:
            self._change(path, DEVICE, Connected=False, ServicesResolved=False)

    def _silence(self) -> None:
        for task in [*self._transmissions.values(), *self._tasks, self._discovery]:
            if task is not None:
                task.cancel()
        self._transmissions.clear()

    def _answer(self, message: Message) -> Message | bool | None:
        """One request from bleak. Whatever takes time is answered later, by a task."""
        if message.message_type is not MessageType.METHOD_CALL or message.destination == "":
            return None
        handler = getattr(self, f"_on_{message.member}", None)
        if handler is None:
            return None
        task = asyncio.ensure_future(self._reply(handler, message))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return True

    async def _reply(self, handler: Any, message: Message) -> None:
        assert self._bus is not None
        try:
            signature, body = await handler(message.path, message.body) or ("", [])
            reply = Message.new_method_return(message, signature, body)
        except _BluezError as error:
            reply = Message.new_error(message, f"org.bluez.Error.{error.args[0]}", error.args[-1])
        if self._bus is not None and self._bus.connected:
            await self._bus.send(reply)

    async def _on_GetManagedObjects(self, path: str, body: list[Any]) -> tuple[str, list[Any]]:
        return "a{oa{sa{sv}}}", [self._objects]

    async def _on_SetDiscoveryFilter(self, path: str, body: list[Any]) -> None: ...

    async def _on_StartDiscovery(self, path: str, body: list[Any]) -> None:
        if not self._objects[HCI][ADAPTER]["Powered"].value:
            raise _BluezError("NotReady")
        self._discovery = asyncio.create_task(self._discover())

    async def _on_StopDiscovery(self, path: str, body: list[Any]) -> None:
        if self._discovery is not None:
            self._discovery.cancel()

    async def _discover(self) -> None:
        """Every sensor within reach is heard ten times a second."""
        while True:
            for sensor in self.sensors:
                path = _path(sensor)
                if sensor.reachable and path not in self._objects:
                    self._objects[path] = _device(sensor)
                    self._emit("/", MANAGER, "InterfacesAdded", "oa{sa{sv}}", [path, self._objects[path]])
                elif sensor.reachable:
                    self._change(path, DEVICE, RSSI=Variant("n", sensor.strength_dbm))
            await asyncio.sleep(0.1)

    async def _on_Connect(self, path: str, body: list[Any]) -> None:
        sensor = self._sensor(path)
        while not sensor.reachable:
            await asyncio.sleep(0.05)
        for child, interfaces in _attributes(sensor).items():
            self._objects[child] = interfaces
            self._emit("/", MANAGER, "InterfacesAdded", "oa{sa{sv}}", [child, interfaces])
        self._change(path, DEVICE, Connected=True)
        self._change(path, DEVICE, ServicesResolved=True)

    async def _on_Disconnect(self, path: str, body: list[Any]) -> None:
        self.disconnect(self._sensor(path))

    async def _on_StartNotify(self, path: str, body: list[Any]) -> None:
        sensor = self._sensor(path)
        if sensor.wants_pairing:
            raise _BluezError("NotPermitted", "Not paired")
        if self._objects[path][CHARACTERISTIC]["UUID"].value == sensor.description.data:
            deliver = lambda packet: self._change(path, CHARACTERISTIC, Value=packet)
            self._transmissions[_path(sensor)] = asyncio.create_task(sensor.transmit(deliver))

    async def _on_Get(self, path: str, body: list[Any]) -> tuple[str, list[Any]]:
        interface, name = body  # bleak 2.0 asks so whether a sensor is paired; later ones know it
        return "v", [self._objects[path][interface][name]]

    async def _on_Set(self, path: str, body: list[Any]) -> None: ...  # that the sensor is trusted

    async def _on_Pair(self, path: str, body: list[Any]) -> None:
        sensor = self._sensor(path)
        if not sensor.pairs:
            raise _BluezError("AuthenticationRejected", "Authentication Rejected")
        sensor.wants_pairing = False
        self._change(path, DEVICE, Paired=True)

    async def _on_StopNotify(self, path: str, body: list[Any]) -> None:
        self._transmissions.pop(_path(self._sensor(path))).cancel()

    async def _on_WriteValue(self, path: str, body: list[Any]) -> None:
        self._sensor(path).command(bytes(body[0]))

    async def _on_ReadValue(self, path: str, body: list[Any]) -> tuple[str, list[Any]]:
        return "ay", [bytes([self._sensor(path).battery_pct])]

    def _sensor(self, path: str) -> FakeSensor:
        return next(sensor for sensor in self.sensors if path.startswith(_path(sensor)))

    def _change(self, path: str, interface: str, **properties: Any) -> None:
        changed = {name: _v(value) for name, value in properties.items()}
        self._objects[path][interface].update(changed)
        self._emit(path, PROPERTIES, "PropertiesChanged", "sa{sv}as", [interface, changed, []])

    def _emit(self, path: str, interface: str, member: str, signature: str, body: list[Any]) -> None:
        if self._bus is not None and self._bus.connected:
            self._bus.send(Message.new_signal(path, interface, member, signature, body))


class _BluezError(Exception):
    """The last part of an error name of BlueZ."""


def _v(value: Any) -> Variant:
    if isinstance(value, Variant):
        return value
    if isinstance(value, bool):
        return Variant("b", value)
    return Variant({str: "s", bytes: "ay", list: "as"}[type(value)], value)


def _path(sensor: FakeSensor) -> str:
    return f"{HCI}/dev_{sensor.address.replace(':', '_')}"


def _device(sensor: FakeSensor) -> dict[str, dict[str, Variant]]:
    properties = {
        "Address": sensor.address, "Name": sensor.name, "Alias": sensor.name, "Adapter": Variant("o", HCI),
        "UUIDs": [sensor.description.service], "RSSI": Variant("n", sensor.strength_dbm),
        "Connected": False, "ServicesResolved": False, "Paired": False,
    }  # fmt: skip
    return {DEVICE: {name: _v(value) for name, value in properties.items()}}


def _attributes(sensor: FakeSensor) -> Objects:
    """The service and its characteristics; bleak reads a handle from the last four digits of each path."""
    description, service = sensor.description, f"{_path(sensor)}/service0010"
    objects: Objects = {
        service: {
            SERVICE: {"UUID": _v(description.service), "Primary": _v(True), "Device": Variant("o", _path(sensor))}
        }
    }
    wanted = {description.command: ["write", "write-without-response"], description.battery: ["read"]}
    wanted[description.data] = ["notify"] if description.command != description.data else ["notify", "write"]
    for handle, (uuid, flags) in enumerate(wanted.items(), start=0x11):
        if uuid:
            properties = {"UUID": _v(uuid), "Service": Variant("o", service), "Flags": _v(flags), "Value": _v(b"")}
            objects[f"{service}/char{handle:04x}"] = {CHARACTERISTIC: properties}
    return objects
