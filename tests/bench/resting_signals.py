"""Signals of muscles at rest, without any contraction, that may be taken for one: each kind by its name."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from musclewood.signal.simulation.disturbances import hum, qrs
from musclewood.signal.stream.blocks import Samples
from scipy.ndimage import uniform_filter1d

from tests.signal.emg_noise import emg_noise
from tests.signal.motor_units import potential

RATE_HZ = 1000.0
Random = np.random.Generator


def wandering(time_s: Samples, random: Random, sd: float, constant_s: float) -> Samples:
    """Gain whose log wanders (Ornstein-Uhlenbeck) with a standard deviation and a time constant."""
    step_s = 0.02
    keep = np.exp(-step_s / constant_s)
    steps = sd * np.sqrt(1.0 - keep**2) * random.standard_normal(int(time_s[-1] / step_s) + 3)
    steps[0] = 0.0
    log = np.zeros(len(steps))
    for at in range(1, len(steps)):
        log[at] = keep * log[at - 1] + steps[at]
    return np.exp(np.interp(time_s, np.arange(len(log)) * step_s, log))


def heart(time_s: Samples, random: Random, size_uv: float) -> Samples:
    beat_s = np.cumsum(0.83 + 0.04 * random.standard_normal(int(time_s[-1]) + 2))
    nearest = np.searchsorted(beat_s, time_s).clip(1, len(beat_s) - 1)
    return size_uv * (qrs(time_s - beat_s[nearest]) + qrs(time_s - beat_s[nearest - 1]))


def few_units(time_s: Samples, random: Random, units: int) -> Samples:
    """For 5 s of every 10."""
    spikes, shape = np.zeros(len(time_s)), 60.0 * potential(0.0025, RATE_HZ)
    for _ in range(units):
        due_s = np.cumsum(np.maximum(0.02, (1.0 + 0.2 * random.standard_normal(len(time_s) // 100)) / 8.0))
        for at in (RATE_HZ * due_s[(due_s < time_s[-1] - 1.0) & (due_s % 10.0 < 5.0)]).astype(int):
            spikes[at : at + len(shape)] += shape
    return spikes


def knocks(time_s: Samples, random: Random) -> Samples:
    """Thirty a minute of up to 2 mV."""
    swings, within_s = np.zeros(len(time_s)), np.arange(200) / RATE_HZ
    for at in random.integers(0, len(time_s) - 300, int(time_s[-1] / 2.0)):
        swing = np.cos(2 * np.pi * random.uniform(3, 30) * within_s) * np.exp(-within_s / random.uniform(0.005, 0.04))
        swings[at : at + 200] += random.uniform(-2000.0, 2000.0) * swing
    return swings


def tone_steps(time_s: Samples, random: Random, ratio: float, apart_s: float) -> Samples:
    edges_s = np.cumsum(random.uniform(0.5, 1.5, int(time_s[-1] / apart_s * 2) + 4) * apart_s)
    steps = uniform_filter1d((np.searchsorted(edges_s, time_s) % 2).astype(float), 300)
    return np.power(ratio, steps)


Gain = Callable[[Samples, Random], Samples]
GAINS: dict[str, Gain] = {
    "steady": lambda time_s, random: np.ones(len(time_s)),
    **{
        f"log gain sd {sd}, {constant_s:g} s": lambda time_s, random, sd=sd, constant_s=constant_s: wandering(
            time_s, random, sd, constant_s
        )
        for sd, constant_s in ((0.1, 1.0), (0.2, 1.0), (0.2, 5.0), (0.3, 5.0), (0.3, 0.3))
    },
    "tone x 3 in 60 s": lambda time_s, random: np.power(3.0, np.abs(time_s / 60.0 % 2.0 - 1.0)),
    **{
        f"tone x {ratio:g} about every {apart_s:g} s": lambda time_s, random, ratio=ratio, apart_s=apart_s: tone_steps(
            time_s, random, ratio, apart_s
        )
        for ratio, apart_s in ((1.5, 20.0), (2.0, 20.0), (2.0, 60.0))
    },
}
ADDED: dict[str, Gain] = {
    **{
        f"heart {size_uv:g} µV": lambda time_s, random, size_uv=size_uv: heart(time_s, random, size_uv)
        for size_uv in (20.0, 100.0, 300.0)
    },
    "1 motor unit": lambda time_s, random: few_units(time_s, random, 1),
    "2 motor units": lambda time_s, random: few_units(time_s, random, 2),
    "knocks, 30 a minute": knocks,
    **{
        f"hum {size_uv:g} µV on and off": lambda time_s, random, size_uv=size_uv: (
            size_uv * hum(time_s, 50.05) * (time_s % 16.0 < 8.0)
        )
        for size_uv in (6.0, 80.0)
    },
}
RESTS = (*GAINS, *ADDED)


def resting(case: str, minutes: float, seed: int) -> Samples:
    """So much of one of `RESTS`, 3 µV of it."""
    time_s = np.arange(int(60.0 * minutes * RATE_HZ)) / RATE_HZ
    random = np.random.default_rng((seed, RESTS.index(case)))
    rest = 3.0 * emg_noise(len(time_s), RATE_HZ, seed)
    return rest * GAINS[case](time_s, random) if case in GAINS else rest + ADDED[case](time_s, random)
