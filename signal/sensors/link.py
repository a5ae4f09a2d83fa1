"""Find a sensor, connect, stream, notice when it goes, and get it back: until cancelled, or given up.

    searching -> connecting -> streaming <-> silent
        ^------------ waiting <------------------+

Time is the event loop's, so a loop with a time of its own can play an hour in a second.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from enum import Enum
from typing import TYPE_CHECKING

from musclewood.signal.sensors.description import SensorDescription
from musclewood.signal.sensors.pairing import notified
from musclewood.signal.sensors.scanning import FoundSensor, Radio, find_one
from musclewood.signal.sensors.stream import PacketCounts, open_stream
from musclewood.signal.sensors.troubles import Trouble, trouble_of
from musclewood.signal.stream.blocks import Block

if TYPE_CHECKING:
    from bleak import BleakClient
    from bleak.backends.characteristic import BleakGATTCharacteristic

_log = logging.getLogger(__name__)


class LinkState(Enum):
    """Where the link stands."""

    SEARCHING = "searching"
    CONNECTING = "connecting"
    STREAMING = "streaming"
    SILENT = "silent"
    WAITING = "waiting"
    STOPPED = "stopped"
    GIVEN_UP = "given up"


@dataclass(frozen=True, slots=True)
class LinkStatus:
    """trouble: what to tell the patient, None while all is well. battery_pct: None until the sensor told it."""

    state: LinkState
    trouble: Trouble | None = None
    sensor_name: str = ""
    battery_pct: int | None = None


@dataclass(frozen=True, slots=True)
class LinkSettings:
    """All our choices. A sensor that returns streams again within the longest wait plus the time it takes to connect.

    silent_s: the patient is told. watchdog_s: the connection is taken for dead, even if the system calls it alive.
    give_up_s: without a sample for so long, the source ends.
    """

    scan_s: float = 10.0
    connect_s: float = 10.0
    silent_s: float = 1.0
    watchdog_s: float = 3.0
    first_wait_s: float = 0.25
    longest_wait_s: float = 2.0
    farewell_s: float = 1.0
    battery_every_s: float = 60.0
    give_up_s: float = 300.0


class SensorLink:
    """One sensor, from now on. `on_block` and `on_status` are called in the event loop that runs `run()`."""

    def __init__(
        self,
        sensor: SensorDescription,
        address: str | None,
        radio: Radio,
        settings: LinkSettings,
        on_block: Callable[[Block], None],
        on_status: Callable[[LinkStatus], None],
    ) -> None:
        self._sensor, self._address, self._radio, self._settings = sensor, address, radio, settings
        self._on_block, self._on_status = on_block, on_status
        self._stream = open_stream(sensor)
        self._status = LinkStatus(LinkState.SEARCHING)
        self._last_sample_s = 0.0
        self._refused_before = 0
        self._awake = False  # whether the sensor may have been told to start, and so must be told to stop

    @property
    def counts(self) -> PacketCounts:
        """What became of the packets so far."""
        return self._stream.counts

    async def run(self) -> None:
        """Until the task is cancelled, or nothing came for `give_up_s`."""
        self._last_sample_s = _now_s()
        wait_s, trouble = self._settings.first_wait_s, Trouble.NOT_FOUND
        while _now_s() - self._last_sample_s < self._settings.give_up_s:
            before_s = self._last_sample_s
            trouble = await self._session()
            _stay_cancelled()
            if self._last_sample_s > before_s:
                wait_s = self._settings.first_wait_s
            self._tell(LinkState.WAITING, trouble)
            await asyncio.sleep(wait_s)
            wait_s = min(2 * wait_s, self._settings.longest_wait_s)
        self._tell(LinkState.GIVEN_UP, trouble)

    async def _session(self) -> Trouble:
        """One attempt, from the search to the loss; returns what ended it."""
        self._tell(LinkState.SEARCHING, self._status.trouble)
        try:
            found = await find_one(self._sensor, self._address, self._settings.scan_s, self._radio)
            return await self._stay_with(found) if found else Trouble.NOT_FOUND
        except Exception as error:  # noqa: BLE001 each system's Bluetooth raises errors of its own
            _log.info("sensor session ended: %r", error)
            return trouble_of(error)

    async def _stay_with(self, found: FoundSensor) -> Trouble:
        self._address = found.address  # from now on this one, not a neighbour's of the same kind
        self._status = replace(self._status, sensor_name=found.name)
        self._tell(LinkState.CONNECTING, self._status.trouble)
        gone = asyncio.Event()
        client = self._radio.client(found.device, lambda _: gone.set(), self._settings.connect_s)
        self._refused_before, self._awake = self.counts.refused, False
        try:
            async with asyncio.timeout(self._settings.connect_s):
                await client.connect()
            await self._begin(client)
            return await self._watch(client, gone)
        finally:
            self._pass_on(self._stream.rejoin())
            await self._leave(client)

    async def _begin(self, client: BleakClient) -> None:
        answer_s, data = self._settings.connect_s, _characteristic(client, self._sensor.data)
        await notified(
            client, data, self._on_packet, answer_s, lambda: self._tell(LinkState.CONNECTING, Trouble.UNPAIRED)
        )
        async with asyncio.timeout(answer_s):
            if self._sensor.battery:
                await self._follow_battery(client)
            self._awake = True
            if self._sensor.start:
                await self._command(client, self._sensor.start)

    async def _watch(self, client: BleakClient, gone: asyncio.Event) -> Trouble:
        """While samples come. The system may go on calling a dead connection alive, so only samples count."""
        begun_s = battery_read_s = _now_s()
        while not gone.is_set():
            with suppress(TimeoutError):
                async with asyncio.timeout(self._settings.silent_s / 4):
                    await gone.wait()
            quiet_s = _now_s() - max(begun_s, self._last_sample_s)
            if quiet_s >= self._settings.watchdog_s:
                return self._silence()
            if quiet_s >= self._settings.silent_s:
                self._tell(LinkState.SILENT, self._silence())
            if self._sensor.battery and _now_s() - battery_read_s >= self._settings.battery_every_s:
                battery_read_s = _now_s()
                await self._read_battery(client)
        return Trouble.LOST

    def _silence(self) -> Trouble:
        """Packets that come and cannot be read have another cause than none at all."""
        return Trouble.WRONG_DATA if self.counts.refused > self._refused_before else Trouble.NO_DATA

    def _on_packet(self, _: BleakGATTCharacteristic, payload: bytearray) -> None:
        refused = self.counts.refused
        self._pass_on(self._stream.feed(bytes(payload), _now_s()))
        if self.counts.refused == refused:
            self._refused_before = refused
            self._last_sample_s = _now_s()
            self._tell(LinkState.STREAMING, None)

    def _pass_on(self, blocks: list[Block]) -> None:
        for block in blocks:
            self._on_block(block)

    async def _command(self, client: BleakClient, command: bytes) -> None:
        characteristic = _characteristic(client, self._sensor.command)
        await client.write_gatt_char(characteristic, command, response=self._sensor.with_response)

    async def _follow_battery(self, client: BleakClient) -> None:
        characteristic = client.services.get_characteristic(self._sensor.battery)
        if characteristic is not None and "notify" in characteristic.properties:
            with suppress(Exception):  # a battery that is not told must not cost the signal
                await client.start_notify(characteristic, lambda _, level: self._note_battery(level))
        await self._read_battery(client)

    async def _read_battery(self, client: BleakClient) -> None:
        with suppress(Exception):
            async with asyncio.timeout(self._settings.farewell_s):
                self._note_battery(await client.read_gatt_char(self._sensor.battery))

    def _note_battery(self, level: bytearray) -> None:
        """Battery Level is one byte, 0 to 100 percent (Bluetooth SIG, Battery Service)."""
        if len(level) >= 1 and level[0] <= 100:
            self._status = replace(self._status, battery_pct=level[0])
            self._on_status(self._status)

    async def _leave(self, client: BleakClient) -> None:
        """Part with the sensor in any state. Raises nothing: an error here would take a cancellation's place."""
        farewell_s = self._settings.farewell_s
        with suppress(Exception):
            async with asyncio.timeout(farewell_s):
                if client.is_connected and self._awake and self._sensor.stop:
                    await self._command(client, self._sensor.stop)
        with suppress(Exception):
            async with asyncio.timeout(farewell_s):
                await client.disconnect()

    def _tell(self, state: LinkState, trouble: Trouble | None) -> None:
        if (state, trouble) != (self._status.state, self._status.trouble):
            self._status = replace(self._status, state=state, trouble=trouble)
            self._on_status(self._status)


def _now_s() -> float:
    return asyncio.get_running_loop().time()


def _stay_cancelled() -> None:
    """Libraries may swallow a cancellation by raising another error while they clean up."""
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError


def _characteristic(client: BleakClient, uuid: str) -> BleakGATTCharacteristic:
    characteristic = client.services.get_characteristic(uuid)
    if characteristic is None:
        from bleak.exc import BleakCharacteristicNotFoundError

        raise BleakCharacteristicNotFoundError(uuid)
    return characteristic
