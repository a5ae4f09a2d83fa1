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
from musclewood.signal.stream.activation import Flags
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
FAINTEST = -600.0  # log of the smallest likelihood told apart from none; keeps clear of the slow, tiniest numbers


@dataclass
class BayesState:
    """What is believed (channels, grid), padded by a zero at either end, where its grid lies,
    and the step under way."""

    belief: NDArray[np.float64]  # before the evidence of the step under way
    unit: NDArray[np.float64]  # mean square at grid point 0 per channel; 0 until the first signal
    limit: list[float]  # mean square from which the grid must move up
    estimate: NDArray[np.float64]  # newest amplitude in µV
    root: NDArray[np.float64]  # of the unit
    per_unit: list[float]  # 1 / unit, or 1
    evidence: list[tuple[float, float]]  # per channel: sum of mean squares and number of ticks seen in this step
    ticks: int = 0  # in this step so far
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
        self._move = move / (1.0 - 2.0 * move)
        self._jump = JUMP_PER_S * step_s / GRID_SIZE
        log = GRID_STEP * np.arange(GRID_SIZE)
        self._reach = float(np.exp(2.0 * GRID_STEP * (GRID_SIZE - HEADROOM)))
        # The log of the likelihood at each grid point is linear in: sum of mean squares, ticks seen, 1 (keeps the pads
        # empty).
        self._likelihood = np.array(
            [
                np.pad(-0.5 * evidence * np.exp(-2.0 * log), 1),
                np.pad(-evidence * log, 1),
                np.pad(np.zeros(GRID_SIZE), 1, constant_values=FAINTEST),
            ]
        )
        # Sums up mass and mean of the log.
        self._moments = np.pad(np.stack([np.ones(GRID_SIZE), log], axis=1), ((1, 1), (0, 0)))
        belief = np.zeros((channels, GRID_SIZE + 2))
        belief[:, 1:-1] = 1.0 / GRID_SIZE
        nothing = np.zeros(channels)
        self._state = BayesState(
            belief, nothing, [0.0] * channels, nothing, nothing, [1.0] * channels, [(0.0, 0.0)] * channels
        )
        # Where it is reckoned, with the views of it that each step needs.
        self._after, self._moved = np.zeros_like(belief), np.zeros_like(belief)
        row = self._after.reshape(-1)
        self._left, self._middle, self._right = row[:-2], row[1:-1], row[2:]
        self._inner = self._moved.reshape(-1)[1:-1]
        self._mass = np.ascontiguousarray(self._moments[:, :1])

    def process(self, mean_square: Samples, readable: Flags) -> Samples:
        """See `Amplitude.process`; while a tick cannot be read the amplitude stays and the belief widens."""
        state = self._state
        seen: Flags | None = None
        power = mean_square
        if not state.started or np.count_nonzero(readable) < readable.size:
            seen = readable & ((mean_square > 0.0) | (state.unit > 0.0))
            power = np.where(seen, mean_square, 0.0)
        parts = []
        start = 0
        while start < len(power):
            stop = start + self._place_grid(power[start : start + CHUNK_TICKS])
            parts.append(self._learn(power[start:stop], None if seen is None else seen[start:stop]))
            start = stop
        if not parts:
            return np.empty_like(mean_square)
        amplitude = parts[0] if len(parts) == 1 else np.concatenate(parts)
        if seen is not None:
            amplitude = _held(amplitude, seen, state.estimate)
        state.estimate = amplitude[-1].copy()
        return amplitude

    def _learn(self, power: Samples, seen: Flags | None) -> Samples:
        """Follow some ticks on a grid that fits them; returns the amplitudes, (ticks, channels).

        All channels lie in one row, which NumPy passes over fastest; the zeros between keep their mass apart.
        """
        state = self._state
        channels = len(state.unit)
        likelihood = np.dot(self._gather(power, seen), self._likelihood)
        np.exp(np.maximum(likelihood, FAINTEST, out=likelihood), out=likelihood)
        posterior = likelihood.reshape(len(power), channels, -1)
        start = 0
        while start < len(power):
            if state.ticks == 0:
                self._wander()
            stop = min(len(power), start + self._ticks - state.ticks)
            ticks = posterior[start:stop]
            ticks *= state.belief
            state.ticks += stop - start
            if state.ticks == self._ticks:
                newest = ticks[-1]
                state.belief = np.divide(newest, np.dot(newest, self._mass), out=self._after)
                state.ticks = 0
            start = stop
        sums = np.dot(likelihood, self._moments)
        relative: Samples = np.exp(sums[:, 1] / sums[:, 0]).reshape(power.shape)
        relative *= state.root
        return relative

    def _gather(self, power: Samples, seen: Flags | None) -> NDArray[np.float64]:
        """What the likelihood of each tick and channel is made of, summed up within each step,
        (ticks * channels, 3)."""
        state = self._state
        evidence, ticks = state.evidence, state.ticks
        flat: list[float] = []
        for tick, powers in enumerate(power.tolist()):
            for channel, value in enumerate(powers):
                total, count = evidence[channel] if ticks else (0.0, 0.0)
                if seen is None or seen[tick, channel]:
                    total += value
                    count += 1.0
                evidence[channel] = total, count
                flat += (total * state.per_unit[channel], count, 1.0)
            ticks = (ticks + 1) % self._ticks
        return np.array(flat).reshape(-1, 3)

    def _wander(self) -> None:
        """What is believed one step later: a little to either side, and very rarely anywhere."""
        state, moved = self._state, self._inner
        if state.belief is not self._after:
            self._after[:] = state.belief
        np.add(self._left, self._right, out=moved)
        moved *= self._move
        moved += self._middle
        moved += self._jump
        state.belief = self._moved

    def _place_grid(self, power: Samples) -> int:
        """Move the grid up where the first tick asks for it; returns the next tick that will ask, or how many there
        are."""
        state = self._state
        if max(map(max, power.tolist())) <= min(state.limit):
            return len(power)
        unit = state.unit.copy()
        for channel in np.flatnonzero(power[0] > np.array(state.limit)):
            if unit[channel] == 0.0:
                unit[channel] = power[0, channel] * np.exp(-GRID_STEP * GRID_SIZE)
                continue
            shift = int(np.ceil(np.log(power[0, channel] / state.limit[channel]) / (2.0 * GRID_STEP)))
            unit[channel] *= np.exp(2.0 * GRID_STEP * shift)
            old = state.belief[channel, 1:-1].copy()
            kept = old[shift:]
            state.belief[channel, 1:-1] = 0.0
            state.belief[channel, 1 : len(kept) + 1] = kept
            state.belief[channel, 1] += old[:shift].sum()
        state.unit, state.root, state.limit = unit, np.sqrt(unit), (unit * self._reach).tolist()
        state.started = bool(unit.all())
        state.per_unit = [1.0 / each if each > 0.0 else 1.0 for each in unit.tolist()]
        asking = (power[1:] > state.limit).any(axis=1)
        return 1 + int(asking.argmax()) if asking.any() else len(power)


def _held(amplitude: Samples, seen: Flags, before: NDArray[np.float64]) -> Samples:
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
