"""What spoils a signal, made on demand: to train the eye, to test the quality monitor, to exercise advice.

Every disturbance is a function of the sample's number and a seed, so that any sizes of block give the same samples.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from musclewood.signal.measures.spectrum import Vector
from musclewood.signal.stream.blocks import Block, Samples
from numpy.typing import NDArray

DisturbanceName = Literal["contact", "mains", "movement", "clipping", "heartbeat", "noise", "loss"]
_SEEDS = {"movement": 1, "heartbeat": 2, "noise": 3, "loss": 4, "contact": 5}
PACKET_S = 0.02  # our choice: samples are lost in packets of 20 ms, a usual size over Bluetooth LE
BEAT_S = 0.85  # our choice: about 70 beats a minute
MOVEMENT_S = 0.5  # our choice: one sway begins every half second ...
SWAY_S = 1.5  # ... and has died away after a second and a half


@dataclass(frozen=True, slots=True)
class Disturbance:
    """One fault with its strength, from `start_s` until `stop_s` (seconds of the stream), on `channels` (None: all).

    strength: contact: µV RMS of hum on the open input (0: it goes flat); mains: µV RMS of the fundamental;
    movement: µV of a sway's first swing; clipping: µV of the rail; heartbeat: µV of the R peak; noise: µV RMS;
    loss: share of samples, 0 to 1 (of all channels, as they travel together).
    """

    name: DisturbanceName
    strength: float
    start_s: float = 0.0
    stop_s: float = math.inf
    channels: tuple[int, ...] | None = None
    mains_hz: float = 50.0


class Disturber:
    """Applies disturbances to a stream of `channels` channels at `rate_hz`."""

    def __init__(self, rate_hz: float, channels: int, seed: int, disturbances: Sequence[Disturbance] = ()) -> None:
        self.disturbances = list(disturbances)
        self._rate_hz = rate_hz
        self._channels = channels
        self._seed = seed

    def disturb(self, samples_uv: Samples, first: int) -> Samples:
        """The samples (n, channels) as a troubled sensor would send them; `first` is the number of the first one."""
        if not self.disturbances or not len(samples_uv):
            return samples_uv
        number = np.arange(first, first + len(samples_uv))
        time_s = number / self._rate_hz
        disturbed = samples_uv.copy()
        for disturbance in sorted(self.disturbances, key=lambda each: each.name == "clipping"):
            active = (time_s >= disturbance.start_s) & (time_s < disturbance.stop_s)
            if disturbance.name == "loss" or not np.any(active):
                continue
            for channel in disturbance.channels or range(self._channels):
                column = self._spoilt(disturbance, disturbed[:, channel], time_s, number, channel)
                disturbed[:, channel] = np.where(active, column, disturbed[:, channel])
        return disturbed

    def arrived(self, first: int, count: int) -> NDArray[np.bool_]:
        """Which of the samples `first` .. `first + count` reach us."""
        kept = np.ones(count, dtype=np.bool_)
        number = np.arange(first, first + count)
        for disturbance in self.disturbances:
            if disturbance.name == "loss":
                time_s = number / self._rate_hz
                active = (time_s >= disturbance.start_s) & (time_s < disturbance.stop_s)
                packets = number // max(1, round(PACKET_S * self._rate_hz))
                kept &= ~(active & (self._chances("loss", packets) < disturbance.strength))
        return kept

    def _spoilt(
        self, what: Disturbance, column: Vector, time_s: Vector, number: NDArray[np.int_], channel: int
    ) -> Vector:
        match what.name:
            case "mains":
                return column + what.strength * math.sqrt(2.0) * hum(time_s, what.mains_hz)
            case "movement":
                return column + what.strength * self._sway(time_s, channel)
            case "heartbeat":
                return column + what.strength * self._heart(time_s)
            case "noise":
                return column + what.strength * self._white(number, channel)
            case "clipping":
                return np.clip(column, -what.strength, what.strength)
            case "contact" if what.strength == 0.0:
                return np.zeros_like(column)
            case "contact":
                return 0.02 * column + what.strength * math.sqrt(2.0) * hum(time_s, what.mains_hz)
            case _:
                return column

    def _sway(self, time_s: Vector, channel: int) -> Vector:
        """Cables swinging: decaying oscillations of 1 to 6 Hz, one begun every half second."""
        swaying = np.zeros_like(time_s)
        for event in range(math.floor((time_s[0] - SWAY_S) / MOVEMENT_S), math.floor(time_s[-1] / MOVEMENT_S) + 1):
            random = np.random.default_rng((self._seed, _SEEDS["movement"], channel, event + 1_000))
            frequency_hz, size, side = random.uniform(1.0, 6.0), random.uniform(0.7, 1.0), random.choice((-1.0, 1.0))
            since_s = time_s - event * MOVEMENT_S
            inside = (since_s > 0.0) & (since_s < SWAY_S)
            swing = np.sin(2.0 * math.pi * frequency_hz * since_s) * np.exp(-2.5 * since_s)
            # It starts and ends softly: a step would reach into the muscle's own frequencies.
            soft = np.sin(math.pi * np.clip(since_s / SWAY_S, 0.0, 1.0)) ** 2 + np.clip(since_s / 0.1, 0.0, 1.0)
            swaying += np.where(inside, 0.95 * size * side * swing * np.minimum(soft, 1.0), 0.0)
        return swaying

    def _heart(self, time_s: Vector) -> Vector:
        """A QRS complex and a T wave per beat, at about 70 beats a minute, somewhat irregular."""
        heart = np.zeros_like(time_s)
        for beat in range(math.floor(time_s[0] / BEAT_S) - 1, math.floor(time_s[-1] / BEAT_S) + 2):
            random = np.random.default_rng((self._seed, _SEEDS["heartbeat"], beat + 1_000))
            heart += qrs(time_s - beat * BEAT_S - 0.04 * random.standard_normal())
        return heart

    def _white(self, number: NDArray[np.int_], channel: int) -> Vector:
        noise = np.empty(len(number))
        for second in np.unique(number // 1_000):
            chunk = np.random.default_rng((self._seed, _SEEDS["noise"], channel, int(second))).standard_normal(1_000)
            inside = number // 1_000 == second
            noise[inside] = chunk[number[inside] % 1_000]
        return noise

    def _chances(self, name: str, packets: NDArray[np.int_]) -> Vector:
        chances = np.empty(len(packets))
        for group in np.unique(packets // 256):
            drawn = np.random.default_rng((self._seed, _SEEDS[name], int(group))).random(256)
            inside = packets // 256 == group
            chances[inside] = drawn[packets[inside] % 256]
        return chances


def hum(time_s: Vector, mains_hz: float) -> Vector:
    """Mains as electrodes pick it up: the fundamental (amplitude 1) with weaker odd and even harmonics."""
    phase = 2.0 * math.pi * mains_hz * time_s
    tone: Vector = (
        np.sin(phase) + 0.1 * np.sin(2 * phase + 1.0) + 0.25 * np.sin(3 * phase + 0.5) + 0.1 * np.sin(5 * phase)
    )
    return tone


def qrs(since_s: Vector) -> Vector:
    """One heartbeat as a trunk electrode sees it, R peak 1 at 0 s: three Gaussian waves and the T wave."""

    def wave(centre_s: float, width_s: float) -> Vector:
        bell: Vector = np.exp(-0.5 * ((since_s - centre_s) / width_s) ** 2)
        return bell

    return wave(0.0, 0.009) - 0.2 * wave(-0.028, 0.009) - 0.3 * wave(0.028, 0.010) + 0.2 * wave(0.26, 0.04)


def split_at_losses(
    samples_uv: Samples, arrived: NDArray[np.bool_], first: int, rate_hz: float, lost: int
) -> tuple[list[Block], int]:
    """Blocks of the samples that arrived, each saying how many were lost before it, and how many are lost at the end.

    first: number of the first sample; lost: samples lost just before it.
    """
    edges = np.flatnonzero(np.diff(arrived.astype(np.int8), prepend=0, append=0))
    blocks = []
    position = 0
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        blocks.append(Block(samples_uv[start:stop], (first + start) / rate_hz, lost + start - position))
        position, lost = stop, 0
    return blocks, lost + len(arrived) - position
