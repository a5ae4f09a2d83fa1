"""Amplitude: the smoothed size of the EMG, one value per tick of about 4 ms.

`BayesAmplitude` follows the recursive Bayesian filter of Sanger (2007), "Bayesian filtering of myoelectric signals",
J Neurophysiol 97:1839-1845: the amplitude wanders a little all the time and, very rarely, jumps; the
posterior over log-amplitude is kept on a grid. It is steady in a hold and lets go at once in a release.
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


GRID_STEP = 0.1  # of the natural log of amplitude
GRID_SIZE = 150  # 15 nepers, 130 dB: from a sensor's noise to its rails in any unit
HEADROOM = 25  # grid points kept free above the largest tick so far, 22 dB
# A surface EMG of the usual spectrum (60 and 120 Hz corners, Shwedyk et al. 1977) holds 2 Bs = 400 independent Gaussian
# samples a second (Bendat & Piersol). Real EMG has heavier tails and tells less, so fewer are counted: at 1 kHz the
# likelihood is taken to the power 0.3.
INDEPENDENT_PER_S = 300.0
INDEPENDENT_PER_SAMPLE = 0.3
# Chosen on two recordings of repeated biceps contractions; tests/bench/signal_room.py says what was tried.
DRIFT_PER_S = 0.2  # sd of the slow wander of log-amplitude after one second
JUMP_PER_S = 3e-3  # chance per second of a jump, to any amplitude


@dataclass
class BayesState:
    """Posterior (channels, grid), padded by a zero at either end, and where its grid lies."""

    posterior: NDArray[np.float64]
    unit: NDArray[np.float64]  # mean square at grid point 0 per channel; 0 until the first signal
    estimate: NDArray[np.float64]  # newest amplitude in µV


class BayesAmplitude(Stage[BayesState]):
    """Recursive Bayesian amplitude; the cost per tick does not depend on the sampling rate.

    The estimate is the exponential of the posterior mean of log-amplitude. Everything is relative to the first signal,
    so the unit of the input never matters.
    """

    def __init__(self, rate_hz: float, channels: int) -> None:
        step_s = samples_per_tick(rate_hz) / rate_hz
        self._evidence = min(INDEPENDENT_PER_S, INDEPENDENT_PER_SAMPLE * rate_hz) * step_s
        move = DRIFT_PER_S**2 * step_s / (2.0 * GRID_STEP**2)  # share of mass that moves one grid point either way
        self._move = move / (1.0 - 2.0 * move)
        self._jump = JUMP_PER_S * step_s / GRID_SIZE
        self._log = GRID_STEP * np.arange(GRID_SIZE)
        self._inside = np.pad(np.ones(GRID_SIZE), 1)
        self._inverse = np.pad(np.exp(-2.0 * self._log), 1)
        self._normal = np.pad(np.exp(-self._evidence * self._log), 1)
        self._smallest = float(self._inverse[-2])
        self._reach = float(np.exp(2.0 * GRID_STEP * (GRID_SIZE - HEADROOM)))
        moments = np.stack([np.ones(GRID_SIZE), self._log], axis=1)  # sum up mass and mean of the log
        self._moments = np.pad(moments, ((1, 1), (0, 0)))
        posterior = np.zeros((channels, GRID_SIZE + 2))
        posterior[:, 1:-1] = 1.0 / GRID_SIZE
        self._state = BayesState(posterior, np.zeros(channels), np.zeros(channels))

    def process(self, mean_square: Samples, readable: Flags) -> Samples:
        """See `Amplitude.process`; while a tick cannot be read the amplitude stays and the posterior widens."""
        state = self._state
        seen, power = readable, mean_square
        if not (readable.all() and state.unit.all()):
            seen = readable & ((mean_square > 0.0) | (state.unit > 0.0))
            power = np.where(seen, mean_square, 0.0)
        amplitude = np.empty_like(mean_square)
        start = 0
        while start < len(power):
            stop = self._place_grid(power, start)
            part = slice(start, stop)
            log_mean = self._filter(self._likelihood(power[part], seen[part]))
            amplitude[part] = np.sqrt(state.unit) * np.exp(log_mean)
            start = stop
        return self._hold(amplitude, seen)

    def _likelihood(self, power: Samples, seen: Flags) -> NDArray[np.float64]:
        """Of each tick at each grid point, up to a factor, (ticks, channels, padded grid); 1 where nothing was seen."""
        unit = self._state.unit
        relative = np.maximum(power / np.where(unit > 0.0, unit, 1.0), self._smallest)
        likelihood: Samples = (-0.5 * self._evidence * relative)[..., np.newaxis] * self._inverse
        np.exp(likelihood, out=likelihood)
        likelihood *= self._normal
        if not seen.all():
            likelihood[~seen] = self._inside
        return likelihood

    def _filter(self, likelihood: NDArray[np.float64]) -> NDArray[np.float64]:
        """Wander, jump and learn tick by tick; returns the posterior means of the log, (ticks, channels).

        All channels lie in one row, which NumPy passes over fastest; the zeros between keep their mass apart.
        """
        posterior = self._state.posterior
        row = posterior.reshape(-1)
        lower, middle, upper = row[:-2], row[1:-1], row[2:]
        new = np.zeros_like(posterior)
        inner = new.reshape(-1)[1:-1]
        sums = np.empty((*likelihood.shape[:2], 2))
        for evidence, total in zip(likelihood.reshape(len(likelihood), -1)[:, 1:-1], sums, strict=True):
            np.add(lower, upper, out=inner)
            inner *= self._move
            inner += middle
            inner += self._jump
            inner *= evidence
            np.dot(new, self._moments, out=total)
            np.multiply(new, 1.0 / total[:, :1], out=posterior)
        return sums[:, :, 1] / sums[:, :, 0]

    def _hold(self, amplitude: Samples, seen: Flags) -> Samples:
        if not seen.all():
            padded = np.vstack([self._state.estimate, amplitude])
            rows = np.where(seen, np.arange(1, len(padded))[:, np.newaxis], 0)
            amplitude = np.take_along_axis(padded, np.maximum.accumulate(rows, axis=0), axis=0)
        if len(amplitude):
            self._state.estimate = amplitude[-1].copy()
        return amplitude

    def _place_grid(self, power: Samples, start: int) -> int:
        """Move the grid up where the tick `start` asks for it; returns the next tick that will ask."""
        state = self._state
        reach = self._reach
        if (power[start:] <= state.unit * reach).all():
            return len(power)
        for channel in np.flatnonzero(power[start] > state.unit * reach):
            if state.unit[channel] == 0.0:
                state.unit[channel] = power[start, channel] * np.exp(-GRID_STEP * GRID_SIZE)
                continue
            excess = power[start, channel] / (state.unit[channel] * reach)
            shift = int(np.ceil(np.log(excess) / (2.0 * GRID_STEP)))
            state.unit[channel] *= np.exp(2.0 * GRID_STEP * shift)
            old = state.posterior[channel, 1:-1].copy()
            kept = old[shift:]
            state.posterior[channel, 1:-1] = 0.0
            state.posterior[channel, 1 : len(kept) + 1] = kept
            state.posterior[channel, 1] += old[:shift].sum()
        asking = (power[start + 1 :] > state.unit * reach).any(axis=1)
        return start + 1 + int(asking.argmax()) if asking.any() else len(power)


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
