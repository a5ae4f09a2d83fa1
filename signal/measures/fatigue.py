"""Fatigue of a muscle over its contractions: its spectrum sinks while its amplitude does not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded when they are first used
from musclewood.signal.measures.spectrum import Vector, median_frequency_hz, power_spectrum

FEWEST_BURSTS = 5  # our choice: a slope through fewer contractions is mostly noise
SHORTEST_BURST_S = 0.5  # our choice: at least three half-overlapping segments of the spectrum
DECLINE = 0.08  # our choice: median frequency must have fallen by this share; ordinary scatter of contractions is 3-6 %
ALONE = 0.003  # our choice: how unlikely by chance (one-sided t test of the slope) a sinking spectrum must be alone ...
WITH_RISING_AMPLITUDE = 0.03  # ... and where the amplitude rises so surely as well
AMPLITUDE_KEPT = 0.85  # our choice: a weaker contraction also sinks the spectrum, so amplitude must have been kept up


@dataclass(frozen=True, slots=True)
class Burst:
    """One contraction as fatigue sees it: when (middle, s), median frequency (Hz) and RMS amplitude (µV)."""

    time_s: float
    median_frequency_hz: float
    amplitude_uv: float


@dataclass(frozen=True, slots=True)
class Fatigue:
    """What the contractions so far say. Slopes are straight lines through all of them; NaN if there are too few.

    median_frequency_start_hz: the line's value at the first contraction; median_frequency_end_hz: at the last.
    fatigued: the spectrum has sunk by more than chance and more than `DECLINE`, while the amplitude was kept up.
    """

    median_frequency_start_hz: float
    median_frequency_end_hz: float
    median_frequency_slope_hz_per_min: float
    bursts: int
    fatigued: bool

    @property
    def decline(self) -> float:
        """Relative fall of the median frequency from first to last contraction (0.2 = it sank by a fifth)."""
        return 1.0 - self.median_frequency_end_hz / self.median_frequency_start_hz


def measure_burst(samples_uv: Vector, rate_hz: float, onset_s: float, offset_s: float) -> Burst | None:
    """Cut one contraction out of a channel's conditioned samples (shape (n,), first sample at 0 s) and measure it.

    None if it is shorter than half a second or lies outside. The first and last tenth are left out: while force rises
    or falls, recruitment moves the spectrum.
    """
    margin_s = 0.1 * (offset_s - onset_s)
    first = max(0, round((onset_s + margin_s) * rate_hz))
    last = min(len(samples_uv), round((offset_s - margin_s) * rate_hz))
    if offset_s - onset_s < SHORTEST_BURST_S or last - first < 0.5 * SHORTEST_BURST_S * rate_hz:
        return None
    return burst_of(samples_uv[first:last], rate_hz, (onset_s + offset_s) / 2.0)


def burst_of(samples_uv: Vector, rate_hz: float, time_s: float) -> Burst:
    """Measure one contraction given as its own samples, shape (n,)."""
    spectrum = power_spectrum(samples_uv, rate_hz)
    return Burst(time_s, median_frequency_hz(spectrum), float(np.sqrt(np.mean(np.square(samples_uv)))))


def assess_fatigue(bursts: Sequence[Burst]) -> Fatigue:
    """Judge the contractions of one set or one recording, in order of time.

    Spectrum and amplitude are judged together: a sinking spectrum needs less proof where the amplitude rises beyond
    chance, as it does when a tiring muscle has to recruit more fibres for the same force.
    """
    usable = [burst for burst in bursts if np.isfinite(burst.median_frequency_hz) and burst.amplitude_uv > 0.0]
    nan = float("nan")
    if len(usable) < 2:
        start = usable[0].median_frequency_hz if usable else nan
        return Fatigue(start, start, nan, len(usable), False)
    time_s = np.array([burst.time_s for burst in usable])
    frequency = _line(time_s, np.array([burst.median_frequency_hz for burst in usable]))
    amplitude = _line(time_s, np.array([burst.amplitude_uv for burst in usable]))
    decline = 1.0 - frequency.end / frequency.start
    kept = amplitude.end / amplitude.start
    proof = WITH_RISING_AMPLITUDE if amplitude.chance_of_rising < ALONE else ALONE
    sinks = frequency.chance_of_falling < proof and decline > DECLINE
    return Fatigue(
        median_frequency_start_hz=frequency.start,
        median_frequency_end_hz=frequency.end,
        median_frequency_slope_hz_per_min=60.0 * frequency.slope,
        bursts=len(usable),
        fatigued=len(usable) >= FEWEST_BURSTS and sinks and kept > AMPLITUDE_KEPT,
    )


@dataclass(frozen=True, slots=True)
class _Line:
    start: float
    end: float
    slope: float
    chance_of_falling: float  # of so steep a fall if nothing changed

    @property
    def chance_of_rising(self) -> float:
        return 1.0 - self.chance_of_falling


def _line(time_s: Vector, values: Vector) -> _Line:
    """Least squares, with the one-sided p value of a falling slope; 0.5 where nothing can be said."""
    centred = time_s - time_s.mean()
    spread = float(np.sum(centred**2))
    slope = float(np.sum(centred * values)) / spread if spread > 0.0 else 0.0
    fitted = values.mean() + slope * centred
    freedom = len(values) - 2
    residual = float(np.sum((values - fitted) ** 2))
    chance = 0.5
    if freedom > 0 and spread > 0.0:
        error = np.sqrt(max(residual, 1e-30) / freedom / spread)
        chance = float(scipy.stats.t.cdf(slope / error, freedom))
    return _Line(float(fitted[0]), float(fitted[-1]), slope, chance)
