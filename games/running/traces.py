"""The raw signal as a picture needs it: lowest and highest of every short stretch, written round and round."""

from __future__ import annotations

from threading import Lock

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.stream.blocks import Block
from numpy.typing import NDArray

SECONDS, COLUMNS = 8.0, 400  # our choice: eight seconds are two slow contractions; 20 ms a column
# A scale that holds still: it only ever grows by itself, in steps that somebody can read off. µV from the middle.
SCALES_UV = (50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0, 5000.0)
DRIFT_S = 0.5  # the slow sway of the electrode that a raw picture leaves out; our choice


class Trace:
    """Columns of (lowest, highest) in µV of every channel. Written by the thread that works on samples.

    A sensor that sends an envelope has no sway to be left out: its level is what is to be seen, from nought up.
    """

    def __init__(self, rate_hz: float, channels: int, *, envelope: bool = False) -> None:
        self.envelope = envelope
        self._width = max(1, round(rate_hz * SECONDS / COLUMNS))
        self._low = np.full((COLUMNS, channels), np.nan)
        self._high = np.full((COLUMNS, channels), np.nan)
        self._seen = 0
        self._level = np.zeros(channels)
        self._state: NDArray[np.float64] | None = None
        self._slow = 1.0 / max(1.0, DRIFT_S * rate_hz)
        self._scale = [0] * channels
        self._lock = Lock()
        # Loaded now, while the sensor is looked for, and not amid the first samples: that takes seconds on a busy
        # computer.
        scipy.signal.lfilter([1.0], [1.0], [0.0])

    def take(self, block: Block) -> None:
        """Samples in µV, shape (n, channels); NaN where nothing was measured."""
        samples = np.asarray(block.samples_uv, dtype=np.float64)
        with self._lock:
            value = samples if self.envelope else self._steadied(samples)
            first = 0
            while first < len(value):
                column, place = divmod(self._seen, self._width)
                many = min(self._width - place, len(value) - first)
                self._write(column % COLUMNS, place, value[first : first + many])
                self._seen += many
                first += many

    def _steadied(self, samples: NDArray[np.float64]) -> NDArray[np.float64]:
        """Without the slow sway; what was not measured stays out of it."""
        known = np.isfinite(samples)
        if self._state is None:
            self._state = np.where(known[:1], samples[:1], 0.0) * (1.0 - self._slow)
            self._level = np.where(known[0], samples[0], 0.0) if len(samples) else self._level
        filled = np.where(known, samples, self._level)
        level, self._state = scipy.signal.lfilter([self._slow], [1.0, self._slow - 1.0], filled, axis=0, zi=self._state)
        self._level = level[-1] if len(level) else self._level
        return np.where(known, samples - level, np.nan)

    def _write(self, column: int, place: int, value: NDArray[np.float64]) -> None:
        if place == 0:
            ahead = [(column + gap) % COLUMNS for gap in range(5)]
            self._low[ahead] = self._high[ahead] = np.nan
        self._low[column] = np.fmin(self._low[column], np.fmin.reduce(value, axis=0))
        self._high[column] = np.fmax(self._high[column], np.fmax.reduce(value, axis=0))

    def columns(self, channel: int) -> tuple[NDArray[np.float64], NDArray[np.float64], int]:
        """Lowest and highest in µV, shape (400,) each, NaN where nothing is; and the column written last."""
        with self._lock:
            low, high = self._low[:, channel].copy(), self._high[:, channel].copy()
            now = (max(0, self._seen - 1) // self._width) % COLUMNS
        if self.envelope:
            low = np.where(np.isfinite(high), np.minimum(low, 0.0), np.nan)
        self._grow(channel, low, high)
        return low, high, now

    def scale_uv(self, channel: int) -> float:
        """What the upper edge of the picture means."""
        return SCALES_UV[self._scale[channel]]

    @property
    def running(self) -> bool:
        """Whether anything has come yet."""
        return self._seen > 0

    def _grow(self, channel: int, low: NDArray[np.float64], high: NDArray[np.float64]) -> None:
        known = np.isfinite(low)
        if not known.any():
            return
        # One spike of a cable is no reason to make everything small: a few columns must need it.
        peaks = np.sort(np.maximum(-low[known], high[known]))
        largest = float(peaks[max(0, len(peaks) - 4)])
        while largest > self.scale_uv(channel) and self._scale[channel] < len(SCALES_UV) - 1:
            self._scale[channel] += 1
