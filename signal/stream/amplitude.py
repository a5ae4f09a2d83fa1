"""Amplitude: the smoothed size of the EMG, one value per tick of about 4 ms.

`BayesAmplitude` follows the recursive Bayesian filter of Sanger (2007), "Bayesian filtering of myoelectric signals",
J Neurophysiol 97:1839-1845: the amplitude wanders a little all the time and, very rarely, jumps; the
posterior over log-amplitude is kept on a grid. It is steady in a hold and lets go at once in a release.
`EnvelopeAmplitude` smooths what is already an envelope.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from musclewood.signal.stream.activation import Flags, all_set
from musclewood.signal.stream.blocks import Samples
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


# The wander and the jumps are reckoned once per so long, not with every tick, which costs less and delays a release by
# 4 ms on average; 16 ms were tried too.
STEP_S = 0.012
CHUNK_TICKS = 64  # worked on at once; more would not fit a processor's cache
# Log of the smallest likelihood of a step told apart from none; keeps clear of the slow, tiniest numbers.
FAINTEST = -600.0


@dataclass
class BayesState:
    """What is believed, where its grid lies, and the step under way."""

    belief: NDArray[np.float64]  # (channels * grid), all evidence so far in it, padded
    unit: NDArray[np.float64]  # mean square at grid point 0 per channel; 0 until the first signal
    limit: list[float]  # mean square from which the grid must move up
    estimate: list[float]  # newest amplitude in µV
    likelihood: NDArray[np.float64]  # (channels + 1, channels * grid): its log is linear in all mean squares, and 1
    moments: NDArray[np.float64]  # (channels * grid, 2 * channels): sum up masses, then means of the log of amplitude
    ticks: int  # in this step so far
    lowest_limit: float = 0.0  # of all channels
    started: bool = False  # whether every channel has had a signal


class BayesAmplitude:
    """Recursive Bayesian amplitude; the cost per tick does not depend on the sampling rate.

    The estimate is the exponential of the posterior mean of log-amplitude. Everything is relative to the first signal,
    so the unit of the input never matters.
    """

    def __init__(self, rate_hz: float, channels: int) -> None:
        tick_s = samples_per_tick(rate_hz) / rate_hz
        self._ticks = max(1, round(STEP_S / tick_s))  # in a step
        step_s = self._ticks * tick_s
        evidence = min(INDEPENDENT_PER_S, INDEPENDENT_PER_SAMPLE * rate_hz) * tick_s
        move = DRIFT_PER_S**2 * step_s / (2.0 * GRID_STEP**2)  # share of mass that moves one grid point either way
        stays = 1.0 - 2.0 * move
        self._spread = np.array([move / stays, 1.0, move / stays])
        self._jump = JUMP_PER_S * step_s / GRID_SIZE
        log = GRID_STEP * np.arange(GRID_SIZE)
        self._reach = float(np.exp(2.0 * GRID_STEP * (GRID_SIZE - HEADROOM)))
        self._faintest = FAINTEST / self._ticks
        self._channels = channels
        # A belief is padded by a point of no mass at either end, which stays empty. All channels lie in one row, which
        # NumPy passes over fastest: each product below is of whole rows, for a small array that has to be spread over
        # the rows of another costs more than all of the arithmetic.
        self._log = np.pad(log, 1)
        self._per_power = np.pad(-0.5 * evidence * np.exp(-2.0 * log), 1)
        self._unseen = np.pad(np.zeros(GRID_SIZE), 1, constant_values=self._faintest)
        self._each = np.kron(np.eye(channels), np.pad(np.ones(GRID_SIZE), 1))  # (channels, channels * grid)
        self._mass = np.ascontiguousarray(self._each.T)
        self._powers = np.ones((CHUNK_TICKS, channels + 1))
        without_power = np.tile(np.pad(-evidence * log, 1, constant_values=self._faintest), channels)
        self._state = BayesState(
            belief=self._each.sum(axis=0) / GRID_SIZE,
            unit=np.zeros(channels),
            limit=[0.0] * channels,
            estimate=[0.0] * channels,
            likelihood=np.vstack((np.zeros_like(self._each), without_power)),
            moments=np.concatenate((self._mass, np.zeros_like(self._mass)), axis=1),
            ticks=self._ticks,
        )

    def process(self, mean_square: Samples, readable: Flags) -> Samples:
        """See `Amplitude.process`; while a tick cannot be read the amplitude stays and the belief widens."""
        state = self._state
        seen: Flags | None = None
        power = mean_square
        if not (state.started and all_set(readable)):
            seen = readable & ((mean_square > 0.0) | (state.unit > 0.0))
            power = np.where(seen, mean_square, 0.0)
        parts = []
        rows = power.tolist()
        start = 0
        while start < len(power):
            stop = min(start + CHUNK_TICKS, len(power))
            if max(map(max, rows[start:stop])) > state.lowest_limit:
                stop = start + self._place_grid(power[start:stop])
            parts.append(self._learn(power[start:stop], None if seen is None else seen[start:stop]))
            start = stop
        if not parts:
            return np.empty_like(mean_square)
        amplitude = parts[0] if len(parts) == 1 else np.concatenate(parts)
        if seen is not None:
            amplitude = _held(amplitude, seen, state.estimate)
        state.estimate = amplitude[-1].tolist()
        return amplitude

    def _learn(self, power: Samples, seen: Flags | None) -> Samples:
        """Follow some ticks on a grid that fits them; returns the amplitudes, (ticks, channels)."""
        state, channels = self._state, self._channels
        powers = self._powers[: len(power)]
        powers[:, :channels] = power
        likelihood = np.dot(powers, state.likelihood)
        if seen is not None:
            likelihood.reshape(len(power), channels, -1)[~seen] = self._unseen
        np.maximum(likelihood, self._faintest, out=likelihood)
        np.exp(likelihood, out=likelihood)
        belief, ticks = state.belief, state.ticks
        for row in likelihood:  # becomes the belief, tick by tick
            if ticks == self._ticks:  # one step later: a little to either side, and very rarely anywhere
                belief = belief * np.dot(1.0 / np.dot(belief, self._mass), self._each)
                belief = np.correlate(belief, self._spread, "same")
                belief += self._jump
                ticks = 0
            row *= belief
            belief = row
            ticks += 1
        state.belief, state.ticks = belief, ticks
        sums = np.dot(likelihood, state.moments)
        amplitude: Samples = np.exp(sums[:, channels:] / sums[:, :channels])
        return amplitude

    def _place_grid(self, power: Samples) -> int:
        """Move the grid up where the first tick asks for it; returns the next tick that will ask, or how many there
        are."""
        state = self._state
        width = len(self._log)
        for channel in np.flatnonzero(power[0] > np.array(state.limit)).tolist():
            loudest, unit = float(power[0, channel]), float(state.unit[channel])
            own = slice(channel * width, (channel + 1) * width)
            if unit == 0.0:
                unit = loudest * math.exp(-GRID_STEP * GRID_SIZE)
            else:
                shift = math.ceil(math.log(loudest / state.limit[channel]) / (2.0 * GRID_STEP))
                unit *= math.exp(2.0 * GRID_STEP * shift)
                grid = state.belief[own][1:-1]
                old = grid.copy()
                kept = old[shift:]
                grid[:] = 0.0
                grid[: len(kept)] = kept
                grid[0] += old[:shift].sum()
            state.unit[channel], state.limit[channel] = unit, unit * self._reach
            state.likelihood[channel, own] = self._per_power / unit
            state.moments[own, self._channels + channel] = self._log + 0.5 * math.log(unit)
        state.lowest_limit, state.started = min(state.limit), bool(state.unit.all())
        asking = (power[1:] > state.limit).any(axis=1)
        return 1 + int(asking.argmax()) if asking.any() else len(power)


def _held(amplitude: Samples, seen: Flags, before: list[float]) -> Samples:
    """The same with what was not seen replaced by the newest that was; `before` is what came before the first tick."""
    padded = np.vstack([before, amplitude])
    rows = np.where(seen, np.arange(1, len(padded))[:, np.newaxis], 0)
    return np.take_along_axis(padded, np.maximum.accumulate(rows, axis=0), axis=0)


ENVELOPE_SMOOTHING_S = 0.03  # light: the sensor has smoothed already; our choice


@dataclass
class EnvelopeState:
    """Newest smoothed power per channel; None before the first tick."""

    power: list[float | None]


class EnvelopeAmplitude:
    """One-pole smoothing of an envelope that the sensor has made."""

    def __init__(self, rate_hz: float, channels: int) -> None:
        step_s = samples_per_tick(rate_hz) / rate_hz
        self._keep = math.exp(-step_s / ENVELOPE_SMOOTHING_S)
        self._state = EnvelopeState([None] * channels)

    def process(self, mean_square: Samples, readable: Flags) -> Samples:
        """See `Amplitude.process`; while a tick cannot be read the amplitude stays."""
        amplitude = np.empty_like(mean_square)
        for channel, power in enumerate(self._state.power):
            powers, seen = mean_square[:, channel].tolist(), readable[:, channel].tolist()
            for tick, (new, known) in enumerate(zip(powers, seen, strict=True)):
                if known:
                    power = new if power is None else self._keep * power + (1.0 - self._keep) * new
                amplitude[tick, channel] = math.sqrt(power or 0.0)
            self._state.power[channel] = power
        return amplitude
