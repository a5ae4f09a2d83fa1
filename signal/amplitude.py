"""Amplitude: the smoothed size of the EMG, one value per tick of about 4 ms.

`BayesAmplitude` follows the recursive Bayesian filter of Sanger (2007), "Bayesian filtering of myoelectric signals",
J Neurophysiol 97:1839-1845 (reference from memory): the amplitude wanders a little all the time and, very rarely,
jumps; the posterior over log-amplitude is kept on a grid. It is steady in a hold and lets go at once in a release.
`RmsAmplitude`, the field's usual moving RMS, stays selectable. `EnvelopeAmplitude` smooths what is already an envelope.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from musclewood.signal.activation import Flags
from musclewood.signal.blocks import Samples
from musclewood.signal.stage import Stage
from numpy.typing import NDArray

TICK_S = 0.004


def samples_per_tick(rate_hz: float) -> int:
    """Whole samples in a tick of about 4 ms."""
    return max(1, round(rate_hz * TICK_S))


class Amplitude(Protocol):
    """Anything that turns the mean square of each tick into an amplitude."""

    def process(self, mean_square: Samples, readable: Flags) -> Samples:
        """Mean squares in µV² (ticks, channels) to amplitudes in µV of the same shape."""
        ...

    def snapshot(self) -> object:
        """Copy of the state."""
        ...

    def restore(self, snapshot: Any) -> None:
        """Put a state back."""
        ...


GRID_STEP = 1 / 16  # of the natural log of amplitude
GRID_SIZE = 256  # 16 nepers, 139 dB: from a sensor's noise to its rails in any unit
HEADROOM = 32  # grid points kept above the largest tick so far
TEMPER = 0.5  # exponent of the likelihood: neighbouring samples of EMG are not independent
DRIFT_PER_S = 0.35  # sd of the slow wander of log-amplitude after one second
JUMP_PER_S = 1e-6  # chance of a jump to any amplitude


@dataclass
class BayesState:
    """Posterior (channels, grid) and where its grid lies."""

    posterior: NDArray[np.float64]
    unit: NDArray[np.float64]  # mean square at grid point 0 per channel; 0 until the first signal
    estimate: NDArray[np.float64]  # newest amplitude in µV


class BayesAmplitude(Stage[BayesState]):
    """Recursive Bayesian amplitude; the cost per tick does not depend on the sampling rate."""

    def __init__(self, rate_hz: float, channels: int) -> None:
        samples = samples_per_tick(rate_hz)
        step_s = samples / rate_hz
        self._effective = TEMPER * min(samples, step_s * 1000.0)
        self._spread = DRIFT_PER_S**2 * step_s / (2.0 * GRID_STEP**2)
        self._jump = JUMP_PER_S * step_s / GRID_SIZE
        self._log = GRID_STEP * np.arange(GRID_SIZE)
        self._inverse = np.exp(-2.0 * self._log)
        self._state = BayesState(
            posterior=np.full((channels, GRID_SIZE), 1.0 / GRID_SIZE),
            unit=np.zeros(channels),
            estimate=np.zeros(channels),
        )

    def process(self, mean_square: Samples, readable: Flags) -> Samples:
        """See `Amplitude.process`; while a tick cannot be read the amplitude stays."""
        amplitude = np.empty_like(mean_square)
        for tick, (power, seen) in enumerate(zip(mean_square, readable, strict=True)):
            amplitude[tick] = self._step(power, seen)
        return amplitude

    def _step(self, power: NDArray[np.float64], seen: NDArray[np.bool_]) -> NDArray[np.float64]:
        state = self._state
        self._place_grid(np.where(seen, power, 0.0))
        seen = seen & (state.unit > 0.0)
        if not seen.any():
            return state.estimate
        relative = power[:, np.newaxis] / np.where(state.unit > 0.0, state.unit, 1.0)[:, np.newaxis]
        log_likelihood = -self._effective * (self._log + 0.5 * relative * self._inverse)
        log_likelihood -= log_likelihood.max(axis=1, keepdims=True)
        prior = state.posterior
        wandered = prior.copy()
        flow = self._spread * np.diff(prior, axis=1)
        wandered[:, :-1] += flow
        wandered[:, 1:] -= flow
        posterior = (wandered + self._jump) * np.exp(log_likelihood)
        posterior /= posterior.sum(axis=1, keepdims=True)
        state.posterior = np.where(seen[:, np.newaxis], posterior, prior)
        estimate = np.sqrt(state.unit) * np.exp(state.posterior @ self._log)
        state.estimate = np.where(seen, estimate, state.estimate)
        return state.estimate

    def _place_grid(self, power: NDArray[np.float64]) -> None:
        """Move the grid up so that it always reaches well above the largest tick."""
        state = self._state
        top = np.exp(2.0 * GRID_STEP * (GRID_SIZE - HEADROOM))
        for channel in np.flatnonzero(power > state.unit * top):
            if state.unit[channel] == 0.0:
                state.unit[channel] = power[channel] / np.exp(GRID_STEP * GRID_SIZE)
                continue
            shift = int(np.ceil(np.log(power[channel] / (state.unit[channel] * top)) / (2.0 * GRID_STEP)))
            shift = min(shift, GRID_SIZE - 1)
            moved = np.zeros(GRID_SIZE)
            moved[: GRID_SIZE - shift] = state.posterior[channel, shift:]
            moved[0] += state.posterior[channel, :shift].sum()
            state.posterior[channel] = moved
            state.unit[channel] *= np.exp(2.0 * GRID_STEP * shift)


RMS_WINDOW_S = 0.15  # within the 100-250 ms of common practice, no source


@dataclass
class RmsState:
    """The newest mean squares, oldest first (window, channels), and how many have come."""

    recent: NDArray[np.float64]
    filled: NDArray[np.int64]


class RmsAmplitude(Stage[RmsState]):
    """Root of the mean power over a trailing window; a growing window at the start."""

    def __init__(self, rate_hz: float, channels: int, window_s: float = RMS_WINDOW_S) -> None:
        self._window = max(1, round(window_s * rate_hz / samples_per_tick(rate_hz)))
        self._state = RmsState(np.zeros((self._window, channels)), np.zeros(channels, np.int64))

    def process(self, mean_square: Samples, readable: Flags) -> Samples:
        """See `Amplitude.process`; while a tick cannot be read the amplitude stays."""
        state = self._state
        amplitude = np.empty_like(mean_square)
        for tick, (power, seen) in enumerate(zip(mean_square, readable, strict=True)):
            state.recent = np.where(seen, np.vstack([state.recent[1:], power]), state.recent)
            state.filled = np.minimum(state.filled + seen, self._window)
            amplitude[tick] = np.sqrt(state.recent.sum(axis=0) / np.maximum(state.filled, 1))
        return amplitude


ENVELOPE_SMOOTHING_S = 0.03  # light: the sensor has smoothed already; our choice


@dataclass
class EnvelopeState:
    """Newest smoothed power per channel; NaN before the first tick."""

    power: NDArray[np.float64]


class EnvelopeAmplitude(Stage[EnvelopeState]):
    """One-pole smoothing of an envelope that the sensor has made."""

    def __init__(self, rate_hz: float, channels: int) -> None:
        step_s = samples_per_tick(rate_hz) / rate_hz
        self._keep = float(np.exp(-step_s / ENVELOPE_SMOOTHING_S))
        self._state = EnvelopeState(np.full(channels, np.nan))

    def process(self, mean_square: Samples, readable: Flags) -> Samples:
        """See `Amplitude.process`; while a tick cannot be read the amplitude stays."""
        amplitude = np.empty_like(mean_square)
        power = self._state.power
        for tick, (new, seen) in enumerate(zip(mean_square, readable, strict=True)):
            smoothed = np.where(np.isnan(power), new, self._keep * power + (1.0 - self._keep) * new)
            power = np.where(seen, smoothed, power)
            amplitude[tick] = np.sqrt(np.nan_to_num(power))
        self._state.power = power
        return amplitude
