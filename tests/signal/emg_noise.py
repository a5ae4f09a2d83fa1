"""A stretch of synthetic EMG at constant effort."""

from __future__ import annotations

from musclewood.signal.measures.spectrum import Vector
from musclewood.signal.simulation.synthesis import EmgCarrier


def emg_noise(count: int, rate_hz: float, seed: int, compression: float = 1.0) -> Vector:
    """`count` samples of unit-variance EMG noise of one channel."""
    return EmgCarrier(rate_hz, seed).make(count, compression)
