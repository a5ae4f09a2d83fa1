"""The estimate of a spectrum on awkward input."""

from __future__ import annotations

import math

import numpy as np
import pytest
from musclewood.signal.measures.spectrum import (
    Spectrum,
    median_frequency_hz,
    power_spectrum,
)

from tests.signal.moving_rms import statistical_bandwidth_hz

FIGURES = [
    median_frequency_hz,
    statistical_bandwidth_hz,
]


@pytest.mark.parametrize("figure", FIGURES)
def test_nothing_gives_no_number(figure) -> None:
    assert math.isnan(figure(power_spectrum(np.empty(0), 1000.0)))


@pytest.mark.parametrize("figure", FIGURES)
def test_silence_gives_no_number(figure) -> None:
    assert math.isnan(figure(power_spectrum(np.zeros(2000), 1000.0)))


@pytest.mark.parametrize("rate_hz", [1000.0, 1259.26, 2048.0])
def test_a_tone_is_found_and_its_power_kept(rate_hz: float) -> None:
    time_s = np.arange(round(4.0 * rate_hz)) / rate_hz
    spectrum = power_spectrum(10.0 * np.sqrt(2.0) * np.sin(2.0 * np.pi * 120.0 * time_s), rate_hz)
    assert median_frequency_hz(spectrum) == pytest.approx(120.0, abs=1.0)
    assert spectrum.power == pytest.approx(100.0, rel=0.02)


def test_median_does_not_hop_between_lines() -> None:
    """It moves smoothly as power moves from one line to the next."""
    frequency_hz = np.arange(0.0, 101.0, 10.0)
    medians = []
    for share in np.linspace(0.0, 1.0, 21):
        density = np.where(frequency_hz == 40.0, 1.0 - share, np.where(frequency_hz == 50.0, share, 0.0))
        medians.append(median_frequency_hz(Spectrum(frequency_hz, density)))
    assert medians[0] == pytest.approx(40.0) and medians[-1] == pytest.approx(50.0)
    assert np.all(np.diff(medians) > 0.0) and np.max(np.diff(medians)) < 1.5
