"""Where a value that scatters from day to day stands now: a mixture of local-trend models (Kalman filters).

Nobody knows beforehand how much the electrodes' place scatters in this patient, nor how the muscle moves. So every
likely scatter is followed beside every likely way of moving, and what was measured says how much each of them counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

# Scatter (SD of the log) that is thought possible, each as likely on this scale of ratios. Published within-person
# coefficients of variation of a surface EMG MVC run from 9 to 36 % (Norcross 2010); half as much again may happen. So
# the first day, which tells nothing of this patient's scatter, has an interval that is honest for the top of the range
# and wide for everybody else; from the third day on 95 % is held over the range (our choice, of ten that were tried).
SCATTERS = np.geomspace(0.05, 0.60, 12)
# How the muscle moves from one session to the next, which are three a week (SD of the log; our choice): a slope that
# lasts, and a wandering of one of these sizes, with how much each is believed.
SLOPE_SD = 0.04
WANDERS, BELIEFS = np.array([0.0, 0.02, 0.05]), np.array([0.3, 0.3, 0.4])
GAP_DAYS = 7 / 3
Z95 = 1.959963984540054
_HALVINGS = 40

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Level:
    """What is believed after one value: mean and variance, the 95 % interval, and this patient's scatter (SD)."""

    mean: float
    variance: float
    low: float
    high: float
    scatter: float


class LevelFilter:
    """Takes in values one by one. `wider` multiplies all scatter (for a ratio of two, by the root of two)."""

    def __init__(self, wider: float = 1.0) -> None:
        scatters, wanders = np.meshgrid(SCATTERS * wider, WANDERS, indexing="ij")
        weights = np.outer(np.ones(len(SCATTERS)), BELIEFS)
        self._scatter, self._wander = scatters.ravel(), wanders.ravel()
        self._log_weight = np.log(weights.ravel())
        self._values = 0
        self._mean = np.zeros((2, len(self._scatter)))  # level and slope a gap, of every model
        self._cov = np.zeros((3, len(self._scatter)))  # variances of both, and their covariance in the middle

    def take(self, value: float, days_since_last: float, extra_variance: float = 0.0) -> None:
        """One value, `days_since_last` after the one before. A clock set back passes for no time at all."""
        noise = self._scatter**2 + extra_variance
        self._values += 1
        if self._values == 1:  # of the level nothing was known, so the first value is what it is
            self._mean[0] = value
            self._cov[0], self._cov[2] = noise, SLOPE_SD**2
            return
        gaps = max(0.0, days_since_last) / GAP_DAYS
        level, shared, slope = self._cov
        level = level + 2 * gaps * shared + gaps**2 * slope + gaps * self._wander**2
        shared = shared + gaps * slope
        surprise = value - (self._mean[0] + gaps * self._mean[1])
        whole = level + noise
        self._log_weight = self._log_weight - 0.5 * (np.log(whole) + surprise**2 / whole)
        gain, slope_gain = level / whole, shared / whole
        self._mean = np.stack([value - surprise * (1 - gain), self._mean[1] + slope_gain * surprise])
        self._cov = np.stack([(1 - gain) * level, (1 - gain) * shared, slope - slope_gain * shared])

    @property
    def state(self) -> tuple[Array, Array, Array]:
        """Weight, mean and SD of the level in every model."""
        weight = np.exp(self._log_weight - self._log_weight.max())
        return weight / weight.sum(), self._mean[0], np.sqrt(self._cov[0])

    @property
    def scatter(self) -> float:
        """The scatter that is believed of this patient (SD of the log)."""
        weight = self.state[0]
        return float(np.sqrt(weight @ self._scatter**2))


def levels(states: Sequence[tuple[Array, Array, Array]], scatters: Sequence[float]) -> list[Level]:
    """The belief behind every state, with its interval."""
    if not states:
        return []
    weight, mean, sd = (np.stack(part) for part in zip(*states, strict=True))
    middle = (weight * mean).sum(axis=1)
    variance = (weight * (sd**2 + (mean - middle[:, None]) ** 2)).sum(axis=1)
    low, high = (_quantile(weight, mean, sd, share) for share in (0.025, 0.975))
    figures = zip(middle, variance, low, high, scatters, strict=True)
    return [Level(*(float(figure) for figure in row)) for row in figures]


def _quantile(weight: Array, mean: Array, sd: Array, share: float) -> Array:
    """Of each row's mixture of normals, by halving."""
    reach = 8 * sd.max(axis=1)
    low, high = mean.min(axis=1) - reach, mean.max(axis=1) + reach
    normal = _normal()
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        below = (weight * normal((middle[:, None] - mean) / sd)).sum(axis=1) < share
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray((low + high) / 2)


@cache
def _normal() -> np.ufunc:
    from scipy.special import ndtr  # takes its time; whoever only plays needs no interval

    return ndtr
