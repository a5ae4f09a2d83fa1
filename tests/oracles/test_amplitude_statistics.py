"""Statistics of an EMG's amplitude that the calibration and the amplitude filter lean on."""

from __future__ import annotations

import math

import numpy as np
import pytest
from musclewood.signal.measures.plateaus import judge_trial
from musclewood.signal.measures.spectrum import Spectrum, emg_shape, statistical_bandwidth_hz
from musclewood.signal.simulation.synthesis import emg_noise
from scipy.integrate import quad
from scipy.special import gammaln
from scipy.stats import norm


def snr_of_rms(samples: int) -> float:
    """Mean over SD of the RMS of N white Gaussian samples: the chi distribution (Clancy & Hogan 1997, Proc EMBS)."""
    mean = math.sqrt(2.0) * math.exp(float(gammaln((samples + 1) / 2) - gammaln(samples / 2)))
    return mean / math.sqrt(samples - mean**2)


def expected_highest(of: int) -> float:
    """Mean of the highest of `of` standard normal values (normal order statistics)."""
    return quad(lambda x: x * of * norm.pdf(x) * norm.cdf(x) ** (of - 1), -9.0, 9.0)[0]


def test_rectified_mean_against_rms_of_gaussian_noise() -> None:
    """Half-normal distribution: ARV/RMS = sqrt(2/pi)."""
    assert math.sqrt(2.0 / math.pi) == pytest.approx(0.797885, abs=1e-6)
    noise = emg_noise(100_000, 1000.0, seed=1)
    assert np.mean(np.abs(noise)) / np.sqrt(np.mean(noise**2)) == pytest.approx(0.797885, rel=0.01)


@pytest.mark.parametrize(
    ("samples", "expected"),
    [
        (1, 1.3236),
        (5, 3.0939),
        (10, 4.4201),
        (20, 6.2864),
        (50, 9.9753),
        (100, 14.1246),
        (200, 19.9875),
        (500, 31.6149),
    ],
)
def test_signal_to_noise_of_rms_of_white_noise(samples: int, expected: float) -> None:
    """Clancy & Hogan 1997: the RMS estimate is chi distributed; for many samples sqrt(2N - 1/2)."""
    assert snr_of_rms(samples) == pytest.approx(expected, abs=1e-4)
    if samples >= 50:
        assert snr_of_rms(samples) == pytest.approx(math.sqrt(2 * samples - 0.5), rel=1e-4)


def test_bias_of_rms_of_few_samples() -> None:
    """The same distribution: E[RMS]/sigma goes to 1 - 1/(4N)."""
    mean = math.sqrt(2.0) * math.exp(float(gammaln(25.5) - gammaln(25.0))) / math.sqrt(50.0)
    assert mean == pytest.approx(0.99501, abs=1e-5)
    assert mean == pytest.approx(1.0 - 1.0 / 200.0, rel=1e-4)


@pytest.mark.parametrize(("window_s", "expected"), [(0.1, 8.96), (0.25, 14.17), (0.5, 20.03), (1.0, 28.33)])
def test_signal_to_noise_of_rms_of_coloured_noise(window_s: float, expected: float) -> None:
    """Bendat & Piersol: the random error of an RMS is 1/(2*sqrt(B*T)), with B of a *one-sided* density.

    On the spectrum of Shwedyk et al. 1977, both from our bandwidth and from windows of our synthetic EMG.
    """
    frequency_hz = np.linspace(0.0, 500.0, 5001)
    bandwidth_hz = statistical_bandwidth_hz(Spectrum(frequency_hz, emg_shape(frequency_hz)))
    assert 2.0 * math.sqrt(bandwidth_hz * window_s) == pytest.approx(expected, rel=0.001)
    windows = emg_noise(round(4000 * window_s * 1000), 1000.0, seed=7).reshape(4000, -1)
    rms = np.sqrt(np.mean(windows**2, axis=1))
    assert np.mean(rms) / np.std(rms) == pytest.approx(expected, rel=0.03)


def test_signal_to_noise_of_rms_of_a_flat_band() -> None:
    """The same for a flat band of 20-500 Hz over 0.25 s: 21.9, and not 15.5 as the two-sided formula would give."""
    bandwidth_hz = statistical_bandwidth_hz(Spectrum(np.linspace(20.0, 500.0, 481), np.ones(481)))
    assert 2.0 * math.sqrt(bandwidth_hz * 0.25) == pytest.approx(21.9, rel=0.005)


@pytest.mark.parametrize(("windows", "expected"), [(3, 0.8463), (5, 1.1630), (10, 1.5388), (20, 1.8675)])
def test_highest_of_several_windows_is_biased_upwards(windows: int, expected: float) -> None:
    """Normal order statistics; choosing the best of ten windows at a ratio of 15 adds 10.3 %."""
    assert expected_highest(windows) == pytest.approx(expected, abs=1e-4)
    assert expected_highest(10) / 15.0 == pytest.approx(0.103, abs=5e-4)


@pytest.mark.parametrize("length_s", [2.0, 4.0])
def test_plateau_takes_that_bias_away_again(length_s: float) -> None:
    """The best window of steady noise reads high, by what order statistics say; its value does not."""
    random = np.random.default_rng(5)
    step_s, snr, smoothing = 0.004, 15.0, 15
    width = round(0.5 / step_s)
    best, value = [], []
    for _ in range(400):
        # Ticks as an amplitude filter gives them: neighbours over 60 ms go together.
        white = random.standard_normal(round(length_s / step_s) + smoothing - 1)
        ticks = 100.0 * (1.0 + math.sqrt(width) / snr * np.convolve(white, np.ones(smoothing) / smoothing, "valid"))
        plateau = judge_trial(ticks, np.ones(len(ticks)), step_s, 0.5)
        assert not isinstance(plateau, str)
        best.append(plateau.best_uv)
        value.append(plateau.value_uv)
    independent = 100.0 * (1.0 + expected_highest(round(length_s / 0.5)) / snr)
    assert np.mean(best) >= independent - 0.5
    assert np.mean(value) == pytest.approx(100.0, abs=1.0)


@pytest.mark.parametrize(
    ("length_s", "window_s", "expected"), [(3, 0.5, 0.98862), (3, 1.0, 0.95493), (5, 0.5, 0.99589), (5, 1.0, 0.98363)]
)
def test_best_window_of_a_half_sine(length_s: float, window_s: float, expected: float) -> None:
    """Calculus: the highest mean over w of a half sine of length T is sin(a)/a with a = pi*w/(2T)."""
    a = math.pi * window_s / (2.0 * length_s)
    assert math.sin(a) / a == pytest.approx(expected, abs=1e-5)
    ticks = np.sin(np.pi * (np.arange(round(length_s / 0.001)) + 0.5) * 0.001 / length_s)
    plateau = judge_trial(ticks, np.ones(len(ticks)), 0.001, window_s)
    assert not isinstance(plateau, str)
    assert plateau.best_uv == pytest.approx(expected, abs=1e-5)
