"""Spectra whose figures are known, against ours."""

from __future__ import annotations

import math

import numpy as np
import pytest
from musclewood.signal.measures.spectrum import (
    Spectrum,
    emg_shape,
    median_frequency_hz,
    power_spectrum,
)
from musclewood.signal.stream.conditioning import Conditioning

from tests.signal.emg_noise import emg_noise
from tests.signal.moving_rms import statistical_bandwidth_hz


def over(low_hz: float, high_hz: float, points: int = 20_001) -> np.ndarray:
    return np.linspace(low_hz, high_hz, points)


def test_flat_band() -> None:
    """A flat band of 20-450 Hz: the median in its middle."""
    spectrum = Spectrum(over(20.0, 450.0), np.ones(20_001))
    assert median_frequency_hz(spectrum) == pytest.approx(235.0, rel=1e-6)


def test_rising_density() -> None:
    """S = f up to F: median F/sqrt(2) (calculus)."""
    spectrum = Spectrum(over(0.0, 300.0), over(0.0, 300.0))
    assert median_frequency_hz(spectrum) == pytest.approx(300.0 / math.sqrt(2.0), rel=1e-9)


def test_falling_density() -> None:
    """S = exp(-f/f0): median f0*ln 2 (calculus)."""
    frequency_hz = over(0.0, 40.0)
    spectrum = Spectrum(frequency_hz, np.exp(-frequency_hz))
    assert median_frequency_hz(spectrum) == pytest.approx(math.log(2.0), rel=1e-5)


def test_shape_of_an_emg() -> None:
    """Shwedyk et al. 1977, fl = 60 and fh = 120 Hz: what follows from the formula, by quadrature."""
    frequency_hz = over(0.0, 500.0)
    spectrum = Spectrum(frequency_hz, emg_shape(frequency_hz))
    assert median_frequency_hz(spectrum) == pytest.approx(94.76, abs=0.01)
    assert statistical_bandwidth_hz(spectrum) == pytest.approx(200.64, abs=0.01)
    band = spectrum.within(20.0, 450.0)
    assert median_frequency_hz(band) == pytest.approx(95.67, abs=0.01)
    assert statistical_bandwidth_hz(band) == pytest.approx(193.38, abs=0.01)


def test_synthetic_emg_has_that_shape() -> None:
    """The same figures by Welch's method from two minutes of our synthetic EMG."""
    spectrum = power_spectrum(emg_noise(120_000, 1000.0, seed=3), 1000.0, low_hz=0.0, high_hz=500.0)
    assert median_frequency_hz(spectrum) == pytest.approx(94.76, rel=0.02)


@pytest.mark.parametrize("compression", [0.9, 0.8, 0.7])
def test_compression_scales_all_frequencies(compression: float) -> None:
    """Lindström 1970, Stulen & De Luca 1981 (both from memory): S(f/s)/s scales the median by s."""
    frequency_hz = over(0.0, 5000.0, 200_001)
    fresh = Spectrum(frequency_hz, emg_shape(frequency_hz))
    tired = Spectrum(frequency_hz * compression, emg_shape(frequency_hz * compression, compression=compression))
    assert median_frequency_hz(tired) == pytest.approx(compression * median_frequency_hz(fresh), rel=1e-9)
    noise = emg_noise(200_000, 1000.0, seed=4, compression=compression)
    made = power_spectrum(noise, 1000.0, low_hz=0.0, high_hz=500.0, segment_s=1.0)
    assert median_frequency_hz(made) == pytest.approx(compression * 94.76, rel=0.02)


@pytest.mark.parametrize(("frequency_hz", "gain_db"), [(5.0, -24.10), (10.0, -12.30), (20.0, -3.01), (40.0, -0.26)])
def test_the_conditioning_rises_like_a_high_pass_of_second_order(frequency_hz: float, gain_db: float) -> None:
    """A second-order Butterworth at 20 Hz (De Luca et al. 2010, J Biomech 43:1573): -10*log10(1+(20/f)^4).

    Of the chain's own band-pass at 4 kHz, whose upper edge takes up to 0.7 dB more.
    """
    turns = 2.0 * np.pi * frequency_hz / 4000.0 * np.arange(16_000)
    emg, readable = Conditioning(4000.0, 1).process(100.0 * np.sin(turns)[:, np.newaxis])
    late = emg[8000:, 0]
    assert readable[8000:].all()
    gain = math.sqrt(2.0 * float(np.mean(np.square(late)))) / 100.0
    assert 20.0 * math.log10(gain) == pytest.approx(gain_db, abs=0.75)
