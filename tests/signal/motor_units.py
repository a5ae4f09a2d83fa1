"""EMG made of motor units, apart from the program's own synthesis: what detection is tried on.

The pool follows Fuglevand, Winter & Patla 1993, J Neurophysiol 70:2470 (numbers from memory): 120 units whose
recruitment thresholds and potentials grow exponentially, firing from 8 a second with intervals that vary by a fifth.
Potentials are first-order Hermite-Rodriguez functions, a usual shape for what a bipolar electrode sees (Lo Conte,
Merletti & Sandri 1994, IEEE Trans Biomed Eng 41:1147, from memory), longer where the unit lies deeper.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]

UNITS = 120
RECRUITMENT_RANGE = 30.0  # threshold of the last unit against that of the first
LAST_RECRUITED = 0.6  # share of the greatest excitation: a large limb muscle; small hand muscles recruit earlier
SIZE_RANGE = 30.0  # potentials; 100 for twitches in the paper, less on the skin where depth blurs it
SLOWEST_HZ, FASTEST_HZ, FASTEST_LAST_HZ = 8.0, 35.0, 25.0
INTERVAL_CV = 0.2
LAMBDA_S = (0.0016, 0.0034)  # spectra with their peaks at 140 and 66 Hz
SHARE_OF_DEPTH = 0.5  # how far depth scatters the size of potentials, as a log-normal SD


@dataclass(frozen=True)
class Pool:
    """Per unit: excitation that recruits it (1 is the greatest), firing at most, size and time constant of its
    potential."""

    threshold: Vector
    fastest_hz: Vector
    gain_hz: float
    size: Vector
    lambda_s: Vector


@lru_cache(maxsize=32)
def pool_of(seed: int, units: int = UNITS) -> Pool:
    random = np.random.default_rng((seed, 71))
    place = np.arange(1, units + 1) / units
    threshold = LAST_RECRUITED * np.exp(np.log(RECRUITMENT_RANGE) * (place - 1.0))
    fastest_hz = FASTEST_HZ - (FASTEST_HZ - FASTEST_LAST_HZ) * place
    size = np.exp(np.log(SIZE_RANGE) * (place - 1.0) + SHARE_OF_DEPTH * random.standard_normal(units))
    size *= random.choice((-1.0, 1.0), units)
    return Pool(
        threshold, fastest_hz, (FASTEST_HZ - SLOWEST_HZ) / (1.0 - threshold[0]), size, random.uniform(*LAMBDA_S, units)
    )


def potential(lambda_s: float, rate_hz: float) -> Vector:
    """First-order Hermite-Rodriguez function with a peak of about 1."""
    reach = round(4.0 * lambda_s * rate_hz) + 1
    x = np.arange(-reach, reach + 1) / rate_hz / lambda_s
    return 2.33 * x * np.exp(-np.square(x))


def fire(pool: Pool, excitation: Vector, rate_hz: float, seed: int) -> Vector:
    """The EMG of a pool under an excitation (n,), 0 to 1; a unit of size 1 has potentials of height 1."""
    random = np.random.default_rng((seed, 72))
    count = len(excitation)
    emg = np.zeros(count)
    for unit, threshold in enumerate(pool.threshold):
        above = excitation >= threshold
        if not above.any():
            break
        hz = np.where(above, np.minimum(SLOWEST_HZ + pool.gain_hz * (excitation - threshold), pool.fastest_hz[unit]), 0)
        phase = np.cumsum(hz) / rate_hz
        intervals = np.maximum(0.2, 1.0 + INTERVAL_CV * random.standard_normal(int(phase[-1]) + 20))
        due = np.cumsum(intervals) - random.random()
        at = np.searchsorted(phase, due[(due > 0.0) & (due < phase[-1])])
        shape = pool.size[unit] * potential(pool.lambda_s[unit], rate_hz)
        train = np.bincount(at, minlength=count).astype(float)
        emg += _convolved(train, at, shape)
    return emg


def _convolved(train: Vector, at: NDArray[np.int_], shape: Vector) -> Vector:
    out = np.zeros(len(train) + len(shape) - 1)
    for step, value in enumerate(shape):
        np.add.at(out, at + step, value)
    half = len(shape) // 2
    return out[half : half + len(train)]


@lru_cache(maxsize=256)
def _sizes(seed: int, units: int, rate_hz: float) -> tuple[Vector, Vector]:
    """RMS of steady excitations, by which a wished RMS is turned into one."""
    excitation = np.geomspace(0.0201, 1.0, 24)
    pool = pool_of(seed, units)
    rms = [np.sqrt(np.mean(np.square(fire(pool, np.full(round(6 * rate_hz), e), rate_hz, 5)))) for e in excitation]
    return excitation, np.maximum.accumulate(np.array(rms))


def greatest(seed: int, rate_hz: float = 1000.0, units: int = UNITS) -> float:
    """RMS of the pool at full excitation."""
    return float(_sizes(seed, units, rate_hz)[1][-1])


Trapezoid = tuple[
    float, float, float, float, float
]  # start of the rise, rise, plateau, fall (all s), plateau over rest


def made_of_units(
    rate_hz: float,
    duration_s: float,
    course: Sequence[Trapezoid],
    *,
    rest_uv: float = 3.0,
    greatest_over_rest: float = 60.0,
    units: int = UNITS,
    seed: int = 1,
    course_seed: int = 0,
    tone: Callable[[Vector], Vector] | None = None,
) -> Vector:
    """One channel (n,), µV: white noise of the sensor and skin, and a pool that rises to so many times that rest.

    The plateau, muscle and rest together, has `over_rest` times the RMS of the rest. tone: factor of the rest over
    time.
    """
    time_s = np.arange(round(duration_s * rate_hz)) / rate_hz
    excitation, sizes = _sizes(seed, units, rate_hz)
    per_uv = sizes[-1] / (greatest_over_rest * rest_uv)
    wanted = np.zeros_like(time_s)
    for start_s, rise_s, hold_s, fall_s, over_rest in course:
        end_s = start_s + rise_s + hold_s + fall_s
        shape = np.clip(np.minimum((time_s - start_s) / rise_s, (end_s - time_s) / fall_s), 0.0, 1.0)
        height = rest_uv * np.sqrt(max(0.0, over_rest**2 - 1.0))
        wanted = np.maximum(wanted, height * shape)
    drive = np.interp(wanted * per_uv, np.concatenate(([0.0], sizes)), np.concatenate(([0.0], excitation)))
    emg = fire(pool_of(seed, units), drive, rate_hz, 1000 * seed + course_seed) / per_uv
    rest = rest_uv * (tone(time_s) if tone else 1.0)
    return emg + rest * band_noise(len(time_s), rate_hz, 1000 * seed + course_seed)


def band_noise(count: int, rate_hz: float, seed: int) -> Vector:
    """Gaussian noise whose RMS within 20-450 Hz (or what the rate allows) is 1."""
    band_hz = min(450.0, 0.45 * rate_hz) - 20.0
    return np.random.default_rng((seed, 73)).standard_normal(count) * np.sqrt(0.5 * rate_hz / band_hz)
