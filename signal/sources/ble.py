"""A Bluetooth Low Energy sensor as a source. Its thread and event loop live from `start` to `stop`."""

from __future__ import annotations

import asyncio
from contextlib import suppress
from threading import Thread
from typing import Literal

from musclewood.signal.errors import SensorError
from musclewood.signal.sensors.description import SensorDescription
from musclewood.signal.sensors.link import LinkSettings, LinkState, LinkStatus, SensorLink
from musclewood.signal.sensors.scanning import Radio
from musclewood.signal.sensors.stream import PacketCounts
from musclewood.signal.sensors.troubles import Trouble
from musclewood.signal.sources.block_queue import BlockQueue
from musclewood.signal.stream.blocks import Block

# Our choice: a minute is longer than any stall that a session survives, and bounds the memory.
LONGEST_STALL_S = 60.0


class BleSource:
    """Streams from the sensor that `description` describes; `address` (from a scan) picks one of several.

    Nothing here raises when the sensor fails: `status` says what to tell the patient while the link mends itself,
    and `ended` with `failure` that it was given up.
    """

    kind: Literal["ble"] = "ble"

    def __init__(
        self,
        description: SensorDescription,
        *,
        address: str | None = None,
        radio: Radio | None = None,
        settings: LinkSettings | None = None,
    ) -> None:
        self.description = description
        self.rate_hz = description.rate_hz
        self.labels = description.labels
        self.envelope = description.envelope
        self._status = LinkStatus(LinkState.STOPPED)
        self._queue = BlockQueue(round(LONGEST_STALL_S * description.rate_hz))
        self._link = SensorLink(
            description, address, radio or Radio(), settings or LinkSettings(), self._queue.put, self._set_status
        )
        self._thread: Thread | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._task: asyncio.Task[None] | None = None

    @property
    def status(self) -> LinkStatus:
        """Where the link stands now, what to tell the patient, and the battery."""
        return self._status

    @property
    def counts(self) -> PacketCounts:
        """What became of the packets so far."""
        return self._link.counts

    @property
    def ended(self) -> bool:
        """True once the sensor was given up, or its thread is over for a reason that nobody foresaw."""
        over = self._thread is not None and not self._thread.is_alive()
        return over or self._status.state is LinkState.GIVEN_UP

    @property
    def failure(self) -> SensorError | None:
        """Why the sensor was given up; None while it was not."""
        return (self._status.trouble or Trouble.NO_ANSWER).error if self.ended else None

    def start(self) -> None:
        """Begin to search and stream; returns at once."""
        if self._thread is not None:
            return
        self._status = LinkStatus(LinkState.SEARCHING)
        self._loop = asyncio.new_event_loop()
        self._task = self._loop.create_task(self._link.run())
        self._thread = Thread(target=_run, args=(self._loop, self._task), name="sensor", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Let the sensor go, in whatever state it is; returns when it is gone, or after five seconds at the latest."""
        if self._thread is None or self._loop is None or self._task is None:
            return
        with suppress(RuntimeError):  # the loop is closed already
            self._loop.call_soon_threadsafe(self._task.cancel)
        self._thread.join(timeout=5.0)
        self._thread = self._loop = self._task = None
        self._status = LinkStatus(LinkState.STOPPED, None, self._status.sensor_name, self._status.battery_pct)

    def poll(self, elapsed_s: float) -> list[Block]:
        """All blocks that arrived since the last poll; the sensor keeps the time, so `elapsed_s` is not needed."""
        return self._queue.take()

    def wait(self, at_most_s: float) -> list[Block]:
        """The same, but if nothing has arrived, wait for it: see `musclewood.signal.sources.Arriving`."""
        return self._queue.take(at_most_s)

    def _set_status(self, status: LinkStatus) -> None:
        self._status = status


def _run(loop: asyncio.AbstractEventLoop, task: asyncio.Task[None]) -> None:
    """The thread: run the link to its end, then let everything that it left behind finish."""
    asyncio.set_event_loop(loop)
    try:
        with suppress(asyncio.CancelledError):
            loop.run_until_complete(task)
    finally:
        left = asyncio.all_tasks(loop)
        for each in left:
            each.cancel()
        loop.run_until_complete(asyncio.gather(*left, return_exceptions=True))
        loop.run_until_complete(loop.shutdown_asyncgens())
        loop.close()
