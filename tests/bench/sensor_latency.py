"""How long a sample takes from the fake sensor's notification to activation, through the real queue and thread.

    python tests/bench/sensor_latency.py [--seconds 20]

A fake sensor sends over a private message bus; bleak, the source's own thread, its queue and the chain are the real
ones. A game loop polls at 60 frames a second; the part that is not the game's is printed too. Needs Linux and dbus-daemon.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "signal" / "sources_ble" / "beds"))

from bluez_bed import BluezBed, missing
from fake_sensor import FakeSensor, contractions
from musclewood.signal.chain import Chain
from musclewood.signal.sensors.catalogue import known_sensors
from musclewood.signal.sources.ble import BleSource

FRAME_S = 1.0 / 60.0


class TimedSensor(FakeSensor):
    """Remembers when each packet left; packets are prepared, so that encoding does not compete for the processor."""

    def __init__(self, *arguments: object) -> None:
        super().__init__(*arguments)  # type: ignore[arg-type]
        self.left_s: list[float] = []
        self._made = [FakeSensor.packet(self, number)[2:] for number in range(256)]

    def packet(self, number: int) -> bytes:
        self.left_s.append(time.perf_counter())
        return (number % 65536).to_bytes(2, "little") + self._made[number % 256]


def measure(seconds: float, frame_s: float) -> np.ndarray:
    """Latency of every packet in seconds."""
    description = known_sensors().sensor("two-channel-raw")
    assert description is not None
    sensor = TimedSensor(description, contractions(description.rate_hz))
    source = BleSource(description)
    chain = Chain(description.rate_hz, len(description.labels))
    done_s: list[float] = []
    with BluezBed(sensor):
        source.start()
        end_s = time.perf_counter() + 30.0
        while len(done_s) < seconds * 100 and time.perf_counter() < end_s + seconds:
            for block in source.poll(frame_s):
                assert block.lost == 0
                chain.process(block)
                done_s.append(time.perf_counter())
            time.sleep(frame_s)
        source.stop()
    return np.array(done_s) - np.array(sensor.left_s[: len(done_s)])


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    seconds = parser.parse_args().seconds
    if missing():
        print(missing())
        return 0
    for name, frame_s in (("polled 60 times a second", FRAME_S), ("polled 1000 times a second", 0.001)):
        latency_ms = 1000.0 * measure(seconds, frame_s)
        p50, p99 = np.percentile(latency_ms, [50, 99])
        print(
            f"{name}: p50 {p50:.1f} ms, p99 {p99:.1f} ms, worst {latency_ms.max():.1f} ms of {len(latency_ms)} packets"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
