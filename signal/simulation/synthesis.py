"""Noise with the spectrum of a surface EMG, made as a stream."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.measures.spectrum import Vector, emg_shape

FINEST_COMPRESSION = 0.01  # our choice: finer steps of the spectrum cannot be told apart


class EmgCarrier:
    """Coloured Gaussian noise of unit variance; multiplied by an amplitude it is a synthetic EMG of one channel.

    White noise is convolved with a filter whose squared gain is the published shape (see `emg_shape`). All memory is
    past white noise, so the filter may change between calls, as fatigue compresses the spectrum, without a click.
    """

    def __init__(self, rate_hz: float, seed: int | tuple[int, ...]) -> None:
        self._rate_hz = rate_hz
        self._random = np.random.default_rng(seed)
        self._past = self._random.standard_normal(len(_taps(rate_hz, 1.0)) - 1)

    def make(self, count: int, compression: float = 1.0) -> Vector:
        """The next `count` samples, shape (count,)."""
        steps = round(compression / FINEST_COMPRESSION)
        white = np.concatenate([self._past, self._random.standard_normal(count)])
        self._past = white[count:]
        return np.convolve(white, _taps(self._rate_hz, steps * FINEST_COMPRESSION), mode="valid")


@lru_cache(maxsize=256)
def _taps(rate_hz: float, compression: float) -> Vector:
    """A linear-phase filter of about a quarter of a second with the shape of an EMG and unit power gain."""
    nyquist_hz = rate_hz / 2.0
    count = 2 * (round(0.256 * rate_hz) // 2) + 1
    grid_hz = np.linspace(0.0, nyquist_hz, 513)
    gain = np.sqrt(emg_shape(grid_hz, compression=compression))
    # An odd, symmetric filter may have any gain at Nyquist, so nothing needs to be forced to zero there.
    taps: Vector = scipy.signal.firwin2(count, grid_hz, gain, fs=rate_hz)
    taps /= np.sqrt(np.sum(taps**2))
    return taps
