"""An hour at 100 packets a second, in virtual time: memory stays flat and the time does not drift."""

from __future__ import annotations

import sys

import pytest
from fake_sensor import FakeSensor
from link_faults import lossy
from musclewood.signal.sensors.description import SensorDescription
from musclewood.signal.sensors.link import LinkState
from musclewood.signal.stream.blocks import Block
from virtual_radio import Air
from virtual_session import Seen, play

LONGEST_DRIFT_S = 0.020


class Ledger:
    """Remembers the last block only; and at two times the blocks of memory in use, and how late our time was.

    The lag is that of the most punctual block within a second, since a block behind a lost packet has to wait.
    """

    def __init__(self, early_s: float, late_s: float, drift: float) -> None:
        self.windows_s = [early_s, late_s]
        self.drift = drift
        self.memory = [0, 0]
        self.lag_s = [float("inf"), float("inf")]  # behind the sensor's own clock
        self.samples = self.lost = 0
        self.end_s = 0.0

    def __call__(self, now_s: float, block: Block) -> None:
        self.samples += len(block.samples_uv)
        self.lost += block.lost
        self.end_s = block.start_s + len(block.samples_uv) / 1000.0
        for place, window_s in enumerate(self.windows_s):
            if window_s <= now_s < window_s + 1.0:
                self.memory[place] = sys.getallocatedblocks()
                self.lag_s[place] = min(self.lag_s[place], now_s * (1.0 + self.drift) - self.end_s)


def long_session(sensor: FakeSensor, seconds: float, ledger: Ledger) -> Seen:
    """Stream so long, with a hole of two seconds every minute."""
    made = [sensor.packet(number) for number in range(7)]
    counter = sensor.description.packet.counter
    assert counter is not None

    def quick_packet(number: int) -> bytes:
        """Encoding every sample afresh would take most of the time; only the counter matters here."""
        return (number % counter.wraps_at).to_bytes(counter.width_bytes, "little") + made[number % 7][2:]

    sensor.packet = quick_packet  # type: ignore[method-assign]
    holes = [
        (at_s + shift_s, lambda here=here: setattr(sensor, "reachable", here))
        for at_s in range(60, int(seconds) - 60, 60)
        for shift_s, here in ((0.0, False), (2.0, True))
    ]
    return play(Air(sensor), seconds, *holes, keep_blocks=False, on_block=ledger)


@pytest.mark.parametrize("drift", [0.0, 50e-6, -100e-6], ids=["true clock", "fast clock", "slow clock"])
def test_time_does_not_drift_and_memory_stays_flat(duo: SensorDescription, drift: float, full: bool) -> None:
    """An hour at full size; three minutes otherwise."""
    seconds = 3600.0 if full else 190.0
    sensor = FakeSensor(duo, faults=lossy(0.01), drift=drift)
    ledger = Ledger(30.0, seconds - 10.0, drift)
    seen = long_session(sensor, seconds, ledger)
    early_lag_s, late_lag_s = ledger.lag_s
    assert abs(late_lag_s - early_lag_s) < LONGEST_DRIFT_S
    assert round(ledger.end_s * duo.rate_hz) == ledger.samples + ledger.lost
    assert ledger.lost / (ledger.samples + ledger.lost) < 0.06
    assert seen.statuses[-1][1].state is LinkState.STREAMING
    early, late = ledger.memory
    print(
        f"{seconds:.0f} s, {ledger.samples + ledger.lost} samples, {ledger.lost} lost: our time moved by "
        f"{1000 * (late_lag_s - early_lag_s):.2f} ms against the sensor's, memory by {late - early} blocks of {early}"
    )
    assert late - early < 2000  # one block kept per packet would be tens of thousands
