"""What looks like the beginning of a contraction and is none: a heartbeat, a knock at the cable, hum that comes on.

Heartbeats seen from the trunk, and knocks, hold little above 60 Hz; of a muscle's EMG most lies there, tired or not.
Only when a contraction seems to begin are the newest samples looked at so, which costs nothing in between.
"""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.stream.blocks import Samples
from numpy.typing import NDArray

LOOK_BACK_S = 0.1
SETTLE_S = 0.06  # of filtering before that
SHARP_HZ, SHARP_PART_OF_RATE = 60.0, 0.3
# Our choice: median size above 60 Hz against that of all, over 0.1 s. Simulated heartbeats of 0.1 to 3 mV stay below
# 0.33 and quick contractions, fresh and tired, above 0.5 (0.43 at 200 Hz).
MUSCULAR = 0.38
# Our choice: EMG forgets itself within a few ms, hum never does; its share of the power is the correlation with what
# came one period before. Over 0.1 s of EMG that stays below 0.6, over 0.3 s, which what rises slowly leaves time for,
# below 0.4.
HUMMING, HUMMING_SLOWLY = 0.75, 0.5
LOOK_BACK_SLOWLY_S = 0.3
MAINS_HZ = (50.0, 60.0)
OFF_PERIOD = 0.05  # of a period: at low rates several are needed to come so near a whole number of samples
Vector = NDArray[np.float64]


@dataclass
class PulseState:
    """The newest blocks of samples (n, channels), how many samples they hold, and the number of the next one."""

    blocks: deque[Samples]
    held: int = 0
    next: int = 0


class PulseCheck:
    """Keeps the newest EMG, and tells whether the last 0.1 s before the end of a tick look like muscle."""

    def __init__(self, rate_hz: float, channels: int, tick_samples: int) -> None:
        self._tick = tick_samples
        self._look_back = round(LOOK_BACK_S * rate_hz)
        self._look_back_slowly = round(LOOK_BACK_SLOWLY_S * rate_hz)
        self._periods = tuple(_whole_periods(rate_hz / mains_hz) for mains_hz in MAINS_HZ)
        self._settle = self._look_back + round(SETTLE_S * rate_hz)
        self._keep = max(self._settle, self._look_back_slowly + max(self._periods))
        edge_hz = min(SHARP_HZ, SHARP_PART_OF_RATE * rate_hz)
        sos = scipy.signal.butter(2, edge_hz, btype="highpass", fs=rate_hz, output="sos")
        # So few samples are filtered sooner by the answer to one impulse than by steps, whose beginning takes long.
        self._impulse = scipy.signal.sosfilt(sos, np.eye(1, self._settle)[0])
        self._state = PulseState(deque())

    def take_in(self, emg_uv: Samples, lost: int = 0) -> None:
        """The EMG (n, channels) of a block whose ticks are about to be looked at, `lost` samples missing before it."""
        state = self._state
        blocks = state.blocks
        if lost:
            blocks.append(np.zeros((min(lost, self._keep), emg_uv.shape[1])))
            state.held += len(blocks[-1])
        blocks.append(emg_uv)
        state.held += len(emg_uv)
        state.next += lost + len(emg_uv)
        # A tick may be looked at only when the block after it has come.
        while state.held - len(blocks[0]) >= self._keep + self._tick + len(emg_uv):
            state.held -= len(blocks.popleft())

    def muscular(self, channel: int, tick: int, slowly: bool = False) -> bool:
        """Whether what the detector took for the beginning of a contraction, `tick` being the newest, is muscle.

        slowly: it rises over more than a few tenths of a second, so that hum can be told from longer.
        """
        if self.sharpness(channel, tick) < MUSCULAR:
            return False
        if slowly:
            return self.likeness(channel, tick, self._look_back_slowly) <= HUMMING_SLOWLY
        return self.likeness(channel, tick, self._look_back) <= HUMMING

    def sharpness(self, channel: int, tick: int) -> float:
        """Median size above 60 Hz against that of all, over 0.1 s; 1 where there is nothing."""
        part = self._newest(channel, tick, self._settle)
        whole = _middle_power(part[-self._look_back :]) if len(part) else 0.0
        if whole == 0.0:
            return 1.0
        sharp = np.convolve(part, self._impulse)[: len(part)][-self._look_back :]
        return math.sqrt(_middle_power(sharp) / whole)

    def likeness(self, channel: int, tick: int, count: int) -> float:
        """The higher correlation of the newest `count` samples with what came a period of 50 or of 60 Hz before."""
        part = self._newest(channel, tick, count + max(self._periods))
        highest = 0.0
        for period in self._periods:
            if len(part) < count + period:
                continue
            new, old = part[-count:], part[-count - period : len(part) - period]
            size = math.sqrt(float(np.dot(new, new)) * float(np.dot(old, old)))
            highest = max(highest, float(np.dot(new, old)) / size if size > 0.0 else 0.0)
        return highest

    def _newest(self, channel: int, tick: int, count: int) -> Vector:
        """The newest `count` samples up to the end of the tick, fewer at the start of the stream."""
        state = self._state
        stop = state.held - (state.next - (tick + 1) * self._tick)
        return np.concatenate([block[:, channel] for block in state.blocks])[max(0, stop - count) : max(0, stop)]


def _middle_power(samples: Vector) -> float:
    """Median of the squares of at least one sample; of so few NumPy's own takes five times as long."""
    ranked = np.sort(np.square(samples)).tolist()
    middle = len(ranked) // 2
    return float(ranked[middle] if len(ranked) % 2 else (ranked[middle - 1] + ranked[middle]) / 2.0)


def _whole_periods(period: float) -> int:
    """Samples in the fewest periods that come near a whole number of them."""
    many = (times * period for times in range(1, 7))
    return next((round(each) for each in many if abs(each - round(each)) <= OFF_PERIOD * period), round(period))
