"""A stream of the Lab Streaming Layer as a source; needs the optional package `pylsl`."""

from __future__ import annotations

import importlib
from typing import Any, Literal

import numpy as np
from musclewood.signal.errors import SensorError
from musclewood.signal.sensors.arrival_clock import ArrivalClock
from musclewood.signal.stream.blocks import Block

# Units that the XDF metadata conventions for EMG streams use, as µV.
UV_PER_UNIT = {"microvolts": 1.0, "uV": 1.0, "µV": 1.0, "millivolts": 1e3, "mV": 1e3, "volts": 1e6, "V": 1e6}
FIND_S = 5.0
# A step in the stream's time stamps of more than this many samples is a gap (our choice: stamps jitter by less).
GAP_SAMPLES = 50
SILENT_S = 30.0


class LslSource:
    """Streams from the network stream called `name` (any of type EMG if empty).

    unit: taken from the stream's own description, else this one. Raises SensorError from `start` if pylsl is not
    installed, or no such stream is found.
    """

    kind: Literal["lsl"] = "lsl"
    envelope = False

    def __init__(self, name: str = "", *, unit: str = "uV", library: Any = None) -> None:
        self._name, self._unit = name, unit
        self._library = library
        self._inlet: Any = None
        self._scale_uv: np.ndarray[Any, Any] = np.ones(1)
        self._position = 0
        self._clock = ArrivalClock()
        self._silent_s = 0.0
        self.rate_hz = 0.0
        self.labels: tuple[str, ...] = ()

    @property
    def ended(self) -> bool:
        """True after half a minute without a sample."""
        return self._silent_s >= SILENT_S

    def start(self) -> None:
        """Find the stream and open it, if it is not open already; takes up to five seconds."""
        if self._inlet is not None:
            return
        library = self._library or _pylsl()
        found = library.resolve_byprop(*(("name", self._name) if self._name else ("type", "EMG")), timeout=FIND_S)
        if not found:
            raise SensorError("no_stream")
        inlet = library.StreamInlet(found[0], processing_flags=library.proc_clocksync | library.proc_dejitter)
        info = inlet.info()
        rate_hz = float(info.nominal_srate())
        if rate_hz <= 0.0:
            raise SensorError("no_rate")
        self.rate_hz = rate_hz
        self.labels, units = _channels(info)
        self._scale_uv = np.array([UV_PER_UNIT.get(unit, UV_PER_UNIT[self._unit]) for unit in units])
        self._inlet, self._position, self._clock, self._silent_s = inlet, 0, ArrivalClock(), 0.0

    def stop(self) -> None:
        if self._inlet is not None:
            self._inlet.close_stream()
            self._inlet = None

    def poll(self, elapsed_s: float) -> list[Block]:
        """What arrived since the last poll; gaps are found from the time stamps, which the sender makes."""
        if self._inlet is None:
            return []
        blocks = []
        while True:
            samples, stamps = self._inlet.pull_chunk(timeout=0.0)
            if not stamps:
                break
            blocks.append(self._block(np.asarray(samples, dtype=np.float64), stamps[0]))
        self._silent_s = 0.0 if blocks else self._silent_s + elapsed_s
        return blocks

    def _block(self, samples: np.ndarray[Any, Any], first_stamp_s: float) -> Block:
        due = round(self._clock.device_s(first_stamp_s) * self.rate_hz)
        gap = due - self._position if self._position else 0
        lost = gap if gap > GAP_SAMPLES else 0
        start = self._position + lost
        self._clock.observe(first_stamp_s, start / self.rate_hz)
        self._position = start + len(samples)
        return Block(samples * self._scale_uv, start / self.rate_hz, lost)


def _pylsl() -> Any:
    try:
        return importlib.import_module("pylsl")
    except (ImportError, RuntimeError) as error:  # RuntimeError: the package is there, its binary library is not
        raise SensorError("no_library") from error


def _channels(info: Any) -> tuple[tuple[str, ...], list[str]]:
    """Labels and units of all channels; numbers and no unit where the stream does not describe itself."""
    labels, units = [], []
    channel = info.desc().child("channels").child("channel")
    for number in range(1, info.channel_count() + 1):
        labels.append(channel.child_value("label") or str(number))
        units.append(channel.child_value("unit"))
        channel = channel.next_sibling()
    return tuple(labels), units
