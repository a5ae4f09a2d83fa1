"""Compare a sensor's own time with the time at which its packets arrive."""

from __future__ import annotations

# The worst clock that Bluetooth Low Energy allows a device asleep, 500 parts per million (value from memory): the
# sensor's clock may fall behind ours by no more than this, so a slower estimate would mistake drift for lost samples.
WORST_DRIFT = 500e-6


class ArrivalClock:
    """Knows how far the sensor's time must be by now.

    A packet can be late, by the radio or by a busy computer, but never early. So the smallest lateness seen is the
    true offset between the two clocks; it may rise no faster than clocks drift apart.
    """

    def __init__(self) -> None:
        self._offset_s: float | None = None
        self._device_s = 0.0

    def observe(self, arrived_s: float, device_s: float) -> None:
        """A packet whose last sample ends at `device_s` arrived at `arrived_s`."""
        lateness_s = arrived_s - device_s
        if self._offset_s is None:
            self._offset_s = lateness_s
        else:
            drift_s = max(0.0, device_s - self._device_s) * WORST_DRIFT
            self._offset_s = min(self._offset_s + drift_s, lateness_s)
        self._device_s = device_s

    def device_s(self, arrived_s: float) -> float:
        """The sensor's time that fits this arrival, if the packet was not delayed; 0 before the first packet."""
        return 0.0 if self._offset_s is None else arrived_s - self._offset_s
