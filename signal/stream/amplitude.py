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

    belief: NDArray[np.float64]  # (channels * grid), all evidence so far in it, padded as `_shape` is
    unit: NDArray[np.float64]  # mean square at grid point 0 per channel; 0 until the first signal
    limit: list[float]  # mean square from which the grid must move up
    estimate: list[float]  # newest amplitude in µV
    root: NDArray[np.float64]  # of the unit
    per_unit: NDArray[np.float64]  # 1 / unit, or 1
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
        # The log of a tick's likelihood at each grid point is linear in: its mean square, 1. The pads stay empty.
        self._likelihood = np.array(
            [
                np.pad(-0.5 * evidence * np.exp(-2.0 * log), 1),
                np.pad(-evidence * log, 1, constant_values=self._faintest),
            ]
        )
        self._linear_in = np.ones((CHUNK_TICKS, channels, 2))
        self._unseen = np.pad(np.zeros(GRID_SIZE), 1, constant_values=self._faintest)
        # Sums up mass and mean of the log.
        self._moments = np.pad(np.stack([np.ones(GRID_SIZE), log], axis=1), ((1, 1), (0, 0)))
        self._shape = channels, GRID_SIZE + 2  # of a belief: padded by a point of no mass at either end
        belief = np.tile(self._moments[:, 0] / GRID_SIZE, channels)
        nothing, none = np.zeros(channels), [0.0] * channels
        self._state = BayesState(belief, nothing, none, none, nothing, np.ones(channels), ticks=self._ticks)
        self._mass = np.ascontiguousarray(self._moments[:, :1])

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
        """Follow some ticks on a grid that fits them; returns the amplitudes, (ticks, channels).

        All channels lie in one row, which NumPy passes over fastest; the zeros between keep their mass apart.
        """
        state = self._state
        linear_in = self._linear_in[: len(power)]
        np.multiply(power, state.per_unit, out=linear_in[:, :, 0])
        likelihood = np.dot(linear_in.reshape(-1, 2), self._likelihood)
        if seen is not None:
            likelihood[~seen.reshape(-1)] = self._unseen
        np.maximum(likelihood, self._faintest, out=likelihood)
        np.exp(likelihood, out=likelihood)
        belief, ticks = state.belief, state.ticks
        for row in likelihood.reshape(len(power), -1):  # becomes the belief, tick by tick
            if ticks == self._ticks:  # one step later: a little to either side, and very rarely anywhere
                newest = belief.reshape(self._shape)
                belief = np.correlate((newest / np.dot(newest, self._mass)).reshape(-1), self._spread, "same")
                belief += self._jump
                ticks = 0
            row *= belief
            belief = row
            ticks += 1
        state.belief, state.ticks = belief, ticks
        sums = np.dot(likelihood, self._moments)
        relative: Samples = np.exp(sums[:, 1] / sums[:, 0]).reshape(power.shape)
        relative *= state.root
        return relative

    def _place_grid(self, power: Samples) -> int:
        """Move the grid up where the first tick asks for it; returns the next tick that will ask, or how many there
        are."""
        state = self._state
        unit = state.unit.copy()
        for channel in np.flatnonzero(power[0] > np.array(state.limit)):
            if unit[channel] == 0.0:
                unit[channel] = power[0, channel] * np.exp(-GRID_STEP * GRID_SIZE)
                continue
            shift = int(np.ceil(np.log(power[0, channel] / state.limit[channel]) / (2.0 * GRID_STEP)))
            unit[channel] *= np.exp(2.0 * GRID_STEP * shift)
            grid = state.belief.reshape(self._shape)[channel, 1:-1]
            old = grid.copy()
            kept = old[shift:]
            grid[:] = 0.0
            grid[: len(kept)] = kept
            grid[0] += old[:shift].sum()
        state.unit, state.root, state.limit = unit, np.sqrt(unit), (unit * self._reach).tolist()
        state.lowest_limit, state.started = min(state.limit), bool(unit.all())
        state.per_unit = 1.0 / np.where(unit > 0.0, unit, 1.0)
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
