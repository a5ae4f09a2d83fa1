"""Figures that other packages give too; each is skipped where its package is not installed (musclewood[bench]).

Only what is sound there is compared. Thresholds of biosppy's Hodges-Bui and Solnik detectors, for one, are set on the
raw signal and move with its unit, so they check nothing.
"""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pytest
from musclewood.signal.measures.spectrum import Spectrum, median_frequency_hz, power_spectrum
from musclewood.signal.stream.conditioning import Conditioning
from scipy.signal import butter, sosfilt, sosfilt_zi

from tests.signal.emg_noise import emg_noise


def bring(package: str) -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip(package, reason=f"{package} is not installed: pip install musclewood[bench]")


@pytest.mark.parametrize("block", [1, 16, 4000])
def test_band_pass_is_that_of_scipy(block: int) -> None:
    samples = 50.0 * emg_noise(4000, 1000.0, 5)[:, np.newaxis] + 3000.0
    stage = Conditioning(1000.0, 1)
    emg = np.concatenate([stage.process(samples[at : at + block])[0] for at in range(0, 4000, block)])
    sections = butter(2, (20.0, 450.0), "bandpass", fs=1000.0, output="sos")
    expected, _ = sosfilt(sections, samples, axis=0, zi=sosfilt_zi(sections)[..., np.newaxis] * samples[0])
    np.testing.assert_allclose(emg, expected, atol=1e-8)


def test_median_frequency_from_the_spectrum_of_neurokit2() -> None:
    """Their Welch spectrum, our median of it, against ours of ours."""
    neurokit2 = bring("neurokit2")
    signal = emg_noise(60_000, 1000.0, 7)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        table = neurokit2.signal_psd(
            signal,
            sampling_rate=1000,
            method="welch",
            min_frequency=20,
            max_frequency=450,
            window=0.25,
            normalize=False,
        )
    theirs = Spectrum(np.asarray(table["Frequency"], float), np.asarray(table["Power"], float))
    ours = power_spectrum(signal, 1000.0)
    assert median_frequency_hz(theirs) == pytest.approx(median_frequency_hz(ours), rel=0.01)
    assert median_frequency_hz(ours) == pytest.approx(95.67, rel=0.02)


def test_median_frequency_from_the_spectrum_of_biosppy() -> None:
    bring("biosppy")
    from biosppy.signals import tools

    signal = emg_noise(60_000, 1000.0, 7)
    frequency_hz, density = tools.welch_spectrum(signal=signal, sampling_rate=1000.0, size=250, decibel=False)
    theirs = Spectrum(np.asarray(frequency_hz, float), np.asarray(density, float)).within(20.0, 450.0)
    assert median_frequency_hz(theirs) == pytest.approx(median_frequency_hz(power_spectrum(signal, 1000.0)), rel=0.01)
