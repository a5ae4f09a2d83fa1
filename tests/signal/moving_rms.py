"""The field's usual amplitude, a moving RMS, and what theory says of its steadiness: to compare
the chain's own with."""

from __future__ import annotations

import math

import numpy as np
import scipy
from musclewood.signal.measures.spectrum import Spectrum
from musclewood.signal.stream.activation import Flags, Reference
from musclewood.signal.stream.amplitude import samples_per_tick
from musclewood.signal.stream.blocks import Samples
from musclewood.signal.stream.chain import Chain

WINDOW_S = 0.15  # within the 100-250 ms of common practice, no source


class MovingRms:
    """Root of the mean power over a trailing window; a growing window at the start. Used as an `Amplitude`."""

    def __init__(self, rate_hz: float, channels: int, window_s: float = WINDOW_S) -> None:
        self._window = max(1, round(window_s * rate_hz / samples_per_tick(rate_hz)))
        self._recent: list[list[float]] = [[] for _ in range(channels)]

    def process(self, mean_square: Samples, readable: Flags) -> Samples:
        """See `Amplitude.process`; while a tick cannot be read the amplitude stays."""
        amplitude = np.empty_like(mean_square)
        for channel, recent in enumerate(self._recent):
            powers, seen = mean_square[:, channel].tolist(), readable[:, channel].tolist()
            for tick, (power, known) in enumerate(zip(powers, seen, strict=True)):
                if known:
                    recent.append(power)
                    del recent[: -self._window]
                amplitude[tick, channel] = math.sqrt(sum(recent) / max(1, len(recent)))
        return amplitude


def chain_with_moving_rms(rate_hz: float, channels: int, reference: Reference | None = None) -> Chain:
    """The chain, but for its amplitude."""
    chain = Chain(rate_hz, channels, reference=reference)
    chain._amplitude = MovingRms(rate_hz, channels)
    return chain


def statistical_bandwidth_hz(spectrum: Spectrum) -> float:
    """(integral S)² / integral S², of a *one-sided* density.

    The amplitude over T seconds then has a signal-to-noise ratio of 2*sqrt(bandwidth*T) (Bendat & Piersol: the random
    error of an RMS is 1/(2*sqrt(B*T)), formula from memory).
    """
    squares = float(scipy.integrate.trapezoid(spectrum.density**2, spectrum.frequency_hz))
    return spectrum.power**2 / squares if squares > 0.0 else float("nan")
