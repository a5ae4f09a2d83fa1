"""Numbers that rise from packet to packet: counters, numbers of the first sample, time stamps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from musclewood.signal.sensors.packets import numbers_in
from numpy.typing import NDArray

Octets = NDArray[np.uint8]  # shape (packets, bytes): packets of one length, in the order in which they came
ByteOrder = Literal["little", "big"]

# Our choices. Lost packets and repeated ones may spoil a fifth of the steps. A clock read by the sensor may be one off.
STEADY_SHARE = 0.8
CLOCK_STEP = 8
SEARCHED_BYTES = 24


@dataclass(frozen=True, slots=True)
class Rising:
    """A number that grows by `step` with each packet."""

    at_byte: int
    width_bytes: int
    byte_order: ByteOrder
    step: int

    @property
    def place(self) -> set[int]:
        """The bytes in which it stands."""
        return set(range(self.at_byte, self.at_byte + self.width_bytes))


def rising_numbers(packets: Octets) -> tuple[Rising, ...]:
    """All of them, first byte first; the widest that explains its bytes stands for those inside it."""
    changing = np.ptp(packets, axis=0) > 0
    found: list[Rising] = []
    for width in (4, 3, 2, 1):
        for at in range(min(SEARCHED_BYTES, packets.shape[1]) - width + 1):
            taken: set[int] = set().union(*(one.place for one in found))
            if not changing[at : at + width].all() or taken & set(range(at, at + width)):
                continue
            orders: tuple[ByteOrder, ...] = ("little", "big") if width > 1 else ("little",)
            steady = [one for order in orders if (one := _rising_at(packets, at, width, order)) is not None]
            found += steady[:1]
    return tuple(sorted(found, key=lambda one: one.at_byte))


def _rising_at(packets: Octets, at: int, width: int, order: ByteOrder) -> Rising | None:
    steps = _steps(packets, at, width, order)
    values, times = np.unique(steps, return_counts=True)
    step = int(values[np.argmax(times)])
    near = np.abs(steps - step) <= (1 if step >= CLOCK_STEP else 0)
    if not 0 < step < 256**width // 2 or step % 256 == 0 or near.mean() < STEADY_SHARE:
        return None
    if (
        width > 1
    ):  # whatever hardly ever changes looks like a high byte; a true one changes when the low ones begin anew
        begins_anew = np.diff(_values(packets, at if order == "little" else at + 1, width - 1, order)) < 0
        if near[begins_anew].sum() < STEADY_SHARE * max(1, begins_anew.sum()):
            return None
    return Rising(at, width, order, step)


def _steps(packets: Octets, at: int, width: int, order: ByteOrder) -> NDArray[np.int64]:
    steps: NDArray[np.int64] = np.diff(_values(packets, at, width, order)) % 256**width
    return steps


def _values(packets: Octets, at: int, width: int, order: ByteOrder) -> NDArray[np.int64]:
    return numbers_in(packets[:, at : at + width], f"u{8 * width}", order)[:, 0].astype(np.int64)
