"""The power spectrum of an EMG and the few numbers that describe it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy  # its parts are loaded when they are first used
from numpy.typing import NDArray

Vector = NDArray[np.float64]

LOW_HZ = 20.0  # surface EMG is examined between 20 and 450 Hz: De Luca 2010, J Biomech 43:1573, for the lower corner
HIGH_HZ = 450.0  # common practice, no source, for the upper one
SEGMENT_S = 0.25  # our choice: 4 Hz between lines, two independent segments even in the shortest contraction of 0.5 s


@dataclass(frozen=True, slots=True)
class Spectrum:
    """A one-sided power density over evenly spaced, rising frequencies.

    frequency_hz, density: shape (m,); density in µV²/Hz (or any unit squared per Hz).
    """

    frequency_hz: Vector
    density: Vector

    @property
    def power(self) -> float:
        """Area under the density."""
        return float(scipy.integrate.trapezoid(self.density, self.frequency_hz))

    def within(self, low_hz: float, high_hz: float) -> Spectrum:
        """The part between two frequencies, bounds included."""
        inside = (self.frequency_hz >= low_hz) & (self.frequency_hz <= high_hz)
        return Spectrum(self.frequency_hz[inside], self.density[inside])


def power_spectrum(
    samples_uv: Vector,
    rate_hz: float,
    *,
    low_hz: float = LOW_HZ,
    high_hz: float = HIGH_HZ,
    segment_s: float = SEGMENT_S,
) -> Spectrum:
    """Welch's estimate (Hann, half overlap) of one channel, kept between `low_hz` and `high_hz` and below Nyquist.

    samples_uv: shape (n,), one channel. Fewer samples than a segment give one shorter segment; none, an empty spectrum.
    """
    if len(samples_uv) < 8:
        return Spectrum(np.empty(0), np.empty(0))
    length = min(len(samples_uv), max(8, round(segment_s * rate_hz)))
    frequency_hz, density = scipy.signal.welch(samples_uv, rate_hz, nperseg=length)
    return Spectrum(frequency_hz, density).within(low_hz, high_hz)


def median_frequency_hz(spectrum: Spectrum) -> float:
    """The frequency that halves the power; NaN if there is none.

    Power is accumulated by trapezoids and the crossing found by solving the quadratic that a linear density gives, so
    the estimate does not hop between lines of the spectrum.
    """
    if len(spectrum.density) < 2 or spectrum.power <= 0.0:
        return float("nan")
    cumulated = scipy.integrate.cumulative_trapezoid(spectrum.density, spectrum.frequency_hz, initial=0)
    half = 0.5 * float(cumulated[-1])
    right = int(np.searchsorted(cumulated, half))
    left = right - 1
    width = float(spectrum.frequency_hz[right] - spectrum.frequency_hz[left])
    at, rise = float(spectrum.density[left]), float(spectrum.density[right] - spectrum.density[left])
    missing = half - float(cumulated[left])
    # at*x + rise*x²/(2*width) = missing, in the form that stays sound for rise = 0
    root = np.sqrt(max(0.0, at * at + 2.0 * rise * missing / width))
    return float(spectrum.frequency_hz[left] + (2.0 * missing / (at + root) if at + root > 0.0 else width))


def emg_shape(
    frequency_hz: Vector, *, low_hz: float = 60.0, high_hz: float = 120.0, compression: float = 1.0
) -> Vector:
    """The usual model of a surface EMG's power density, up to a factor: fh⁴f² / ((f²+fl²)(f²+fh²)²).

    compression: the spectrum of a tired muscle is S(f/s)/s with s < 1 (slower conduction along the fibres).
    Source: Shwedyk et al. 1977, IEEE Trans Biomed Eng 24:417 (pages from memory), with fl = 60 and fh = 120 Hz.
    """
    f = frequency_hz / compression
    shape: Vector = high_hz**4 * f**2 / ((f**2 + low_hz**2) * (f**2 + high_hz**2) ** 2) / compression
    return shape
