"""Statistics of an EMG's amplitude that the calibration and the amplitude filter lean on."""

from __future__ import annotations

import math

import numpy as np
import pytest
from musclewood.signal.measures.plateaus import judge_trial
from musclewood.signal.measures.spectrum import Spectrum, emg_shape
from musclewood.signal.stream.amplitude import BayesAmplitude
from musclewood.signal.stream.ticks import Ticks
from scipy.integrate import quad
from scipy.stats import norm

from tests.signal.emg_noise import emg_noise
from tests.signal.moving_rms import MovingRms, statistical_bandwidth_hz


def expected_highest(of: int) -> float:
    """Mean of the highest of `of` standard normal values (normal order statistics)."""
    return quad(lambda x: x * of * norm.pdf(x) * norm.cdf(x) ** (of - 1), -9.0, 9.0)[0]


def ticks_of(samples: np.ndarray, size: int = 4) -> np.ndarray:
    """Mean squares of ticks, as the chain makes them."""
    return Ticks(size, 1).process(samples[:, np.newaxis], np.ones((len(samples), 1), bool))[0]


@pytest.mark.parametrize("amplitude", [BayesAmplitude, MovingRms])
def test_rectified_mean_against_the_amplitude_of_gaussian_noise(amplitude: type) -> None:
    """Half-normal distribution: ARV/RMS = sqrt(2/pi) = 0.797885. Both amplitudes of the chain
    are an RMS, without bias."""
    noise = emg_noise(100_000, 1000.0, seed=1)
    power = ticks_of(noise)
    shown = amplitude(1000.0, 1).process(power, np.ones(power.shape, bool))[250:]
    assert np.mean(np.abs(noise)) / np.mean(shown) == pytest.approx(0.797885, rel=0.02)


@pytest.mark.parametrize(
    ("samples", "expected"), [(5, 3.0939), (10, 4.4201), (20, 6.2864), (50, 9.9753), (100, 14.1246), (200, 19.9875)]
)
def test_signal_to_noise_of_the_moving_rms_in_white_noise(samples: int, expected: float) -> None:
    """Clancy & Hogan 1997, Proc EMBS: the RMS of N white Gaussian samples is chi distributed; its mean over its SD."""
    white = np.random.default_rng(samples).standard_normal((400_000 // samples, samples, 1))
    shown = [
        MovingRms(250.0, 1, samples / 250.0).process(np.square(part), np.ones(part.shape, bool))[-1, 0]
        for part in white[:4000]
    ]
    assert np.mean(shown) / np.std(shown) == pytest.approx(expected, rel=0.05)


def test_bias_of_the_moving_rms_of_few_samples() -> None:
    """The same distribution: E[RMS]/sigma goes to 1 - 1/(4N); 0.99501 for 50."""
    white = np.random.default_rng(3).standard_normal((4000, 50, 1))
    shown = [MovingRms(250.0, 1, 0.2).process(np.square(part), np.ones(part.shape, bool))[-1, 0] for part in white]
    assert np.mean(shown) == pytest.approx(0.99501, abs=0.004)


@pytest.mark.parametrize(("window_s", "expected"), [(0.1, 8.96), (0.25, 14.17), (0.5, 20.03), (1.0, 28.33)])
def test_signal_to_noise_of_rms_of_coloured_noise(window_s: float, expected: float) -> None:
    """Bendat & Piersol: the random error of an RMS is 1/(2*sqrt(B*T)), with B of a *one-sided* density.

    On the spectrum of Shwedyk et al. 1977, both from our bandwidth and from windows of our synthetic EMG.
    """
    frequency_hz = np.linspace(0.0, 500.0, 5001)
    bandwidth_hz = statistical_bandwidth_hz(Spectrum(frequency_hz, emg_shape(frequency_hz)))
    assert 2.0 * math.sqrt(bandwidth_hz * window_s) == pytest.approx(expected, rel=0.001)
    power = ticks_of(emg_noise(round(1000 * window_s * 1000), 1000.0, seed=7), 5)
    rms = MovingRms(200.0, 1, window_s).process(power, np.ones(power.shape, bool))[:: round(window_s * 200.0)][1:]
    assert np.mean(rms) / np.std(rms) == pytest.approx(expected, rel=0.08)


def test_signal_to_noise_of_rms_of_a_flat_band() -> None:
    """The same for a flat band of 20-500 Hz over 0.25 s: 21.9, and not 15.5 as the two-sided formula would give."""
    bandwidth_hz = statistical_bandwidth_hz(Spectrum(np.linspace(20.0, 500.0, 481), np.ones(481)))
    assert 2.0 * math.sqrt(bandwidth_hz * 0.25) == pytest.approx(21.9, rel=0.005)


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
    ticks = np.sin(np.pi * (np.arange(round(length_s / 0.001)) + 0.5) * 0.001 / length_s)
    plateau = judge_trial(ticks, np.ones(len(ticks)), 0.001, window_s)
    assert not isinstance(plateau, str)
    assert plateau.best_uv == pytest.approx(expected, abs=1e-5)
