"""Ticks: samples gathered into steps of about 4 ms, counted from the first sample so that block sizes never matter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from musclewood.signal.stream.activation import Flags, all_set
from musclewood.signal.stream.blocks import Samples
from numpy.typing import NDArray

FEW = 8  # ticks; up to here one matrix product is quicker than a sum over part of an array


@dataclass
class TickState:
    """Power and readability of the samples of the tick under way (fewer than one tick), and ticks done."""

    power: NDArray[np.float64]
    readable: NDArray[np.bool_]
    done: int


class Ticks:
    """Mean power and readability of each tick; lost samples take their time, as zeros that cannot be read."""

    def __init__(self, samples: int, channels: int) -> None:
        self.samples = samples
        self.channels = channels
        mean = np.full((1, samples), 1.0 / samples)
        self._means = [np.kron(np.eye(ticks), mean) for ticks in range(FEW + 1)]
        self._state = TickState(np.zeros((0, channels)), np.zeros((0, channels), bool), 0)

    @property
    def done(self) -> int:
        """Ticks given out so far: the number of the next one."""
        return self._state.done

    def process(self, emg_uv: Samples, readable: Flags, lost: int = 0) -> tuple[Samples, Flags]:
        """Samples (n, channels) in µV to mean squares in µV² (ticks, channels) and whether
        every sample was readable."""
        state = self._state
        sound = all_set(readable)
        power = np.square(emg_uv if sound else np.where(readable, emg_uv, 0.0))
        if lost:
            power = np.concatenate((np.zeros((lost, self.channels)), power))
            readable = np.concatenate((np.zeros((lost, self.channels), bool), readable))
            sound = False
        if len(state.power):
            sound = sound and all_set(state.readable)
            power = np.concatenate((state.power, power))
            readable = np.concatenate((state.readable, readable))
        ticks = len(power) // self.samples
        used = ticks * self.samples
        state.power, state.readable, state.done = power[used:], readable[used:], state.done + ticks
        if ticks <= FEW:
            mean: Samples = np.dot(self._means[ticks], power[:used])
        else:
            mean = np.add.reduce(power[:used].reshape(ticks, self.samples, self.channels), axis=1) / self.samples
        if sound:
            return mean, readable[:ticks]
        every: Flags = np.logical_and.reduce(readable[:used].reshape(ticks, self.samples, self.channels), axis=1)
        return mean, every
