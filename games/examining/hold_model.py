"""What holds tell of how often the next ones will succeed: how far the level strayed, and how long somebody kept on.
Pure.

A hold of yes or no is one bit. Its course tells much more: for every width of the band the share of time spent in it,
which grows unsteady in proportion to the effort (signal-dependent noise: Galganski 1993, Jones 2002; values from
memory), and the time after which this person lets go unasked. A hold of another effort and band then succeeds when the
share, times the time somebody keeps on, reaches the ordered hold. No shape of the noise is assumed: the shares are
those that were seen. But how much holds differ from one another, and how often one is given up, twelve holds do not
tell: there, what people are like in general is believed first.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import scipy  # its parts are loaded when they are first used
from numpy.typing import NDArray

SAMPLE_S = 0.1  # the course of a hold is kept in such steps: the judge's own average is no finer
MOST_HELD = 3.0  # times the ordered hold: then the bell ends it
# The coefficient of variation grows with effort to this power; published ones are flat to slightly rising over the
# efforts that are trained. Our choice.
GROWTH = 0.25
# Before anything is seen: three people whose noise at 30 % is so large a share of it, together worth less than one
# hold.
PRIOR_CV, PRIOR_WEIGHT = (0.11, 0.16, 0.23), 0.4
# How long somebody keeps on, in ordered holds: twice as long, give or take a quarter, and a sixth from hold to hold.
# Our choice.
KEEPS_ON, KEEPS_ON_SD, FROM_HOLD_TO_HOLD = 1.9, 0.25, 0.2
KEEPS_ON_WEIGHT = 4.0  # holds that the sixth is worth: twelve of them tell most of it. Our choice.
# How much a person's holds differ in steadiness, as the SD of its log, and how many holds that is worth: twelve say
# little of how much they differ themselves, and the few best and worst of them would decide. Our choice.
UNLIKE, UNLIKE_WEIGHT = 0.24, 24.0
GIVEN_UP = 0.6  # let go before so much of the ordered hold: a cough, a look aside
ONE_IN = 30.0  # holds are given up before anything is seen; twelve holds say little of what is so rare. Our choice.
_PLACES = (np.arange(40) + 0.5) / 40  # of the distribution of errors that is kept of each hold
_LONGEST = np.linspace(math.log(1.1), math.log(3.5), 60)
_STEPS = np.array([NormalDist().inv_cdf((step + 0.5) / 11) for step in range(11)])
_STEPS = _STEPS / np.sqrt((_STEPS**2).mean())
_HALF_NORMAL = np.array([NormalDist().inv_cdf(0.5 + place / 2) for place in _PLACES])

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Seen:
    """One hold as it was tried: levels in % of the reference, every `SAMPLE_S`, from its onset to letting go."""

    target_pct: float
    hold_s: float
    levels_pct: Sequence[float]

    @property
    def held_s(self) -> float:
        return SAMPLE_S * len(self.levels_pct)

    def made(self, tolerance_pct: float) -> bool:
        """Whether it would have counted with a band of this half-width."""
        within = sum(abs(level - self.target_pct) <= tolerance_pct for level in self.levels_pct)
        return within * SAMPLE_S >= self.hold_s - 1e-9


class HoldModel:
    """Learns from one hold after the other. Deterministic."""

    def __init__(self) -> None:
        # The distribution of the error of each hold, as a share of what its effort makes usual.
        self._errors: list[Array] = []
        self._kept_on: list[float] = []  # log of ordered holds
        self._given_up = 0

    def tell(self, seen: Seen) -> None:
        """Take in a hold."""
        longest = max(seen.held_s / seen.hold_s, 0.05)
        if longest < GIVEN_UP:
            self._given_up += 1
            return
        self._kept_on.append(math.log(longest))
        errors = np.abs(np.asarray(seen.levels_pct) - seen.target_pct) / _usual(seen.target_pct)
        self._errors.append(np.asarray(np.quantile(errors, _PLACES)))

    def success(self, targets_pct: Sequence[float] | Array, tolerances_pct: Sequence[float] | Array) -> Array:
        """Share of holds that would succeed, shape (targets, tolerances)."""
        targets, widths = np.asarray(targets_pct, dtype=float), np.asarray(tolerances_pct, dtype=float)
        reach = widths[None, :] / _usual(targets)[:, None]
        curves, weights = self._curves()
        within = np.stack([np.interp(reach, curve, _PLACES, left=0.0, right=1.0) for curve in curves])
        needed = np.log(np.maximum(1.0, 1.0 / np.maximum(within, 1e-3)))
        believed, spread = self._keeps_on()
        keeps = scipy.special.ndtr(-(needed[..., None] - _LONGEST) / spread) @ believed
        tried = len(self._errors) + self._given_up
        given_up = (self._given_up + 1.0) / (tried + ONE_IN)
        return np.asarray((1.0 - given_up) * np.average(keeps, axis=0, weights=weights))

    def _keeps_on(self) -> tuple[Array, float]:
        """How likely each of `_LONGEST` is how long this person keeps on, and how much that differs from hold to hold.

        A hold that the bell ended only says that it would have been longer.
        """
        kept = np.array(self._kept_on)
        rung = kept >= math.log(0.98 * MOST_HELD)
        free = kept[~rung]
        squares = KEEPS_ON_WEIGHT * FROM_HOLD_TO_HOLD**2 + (((free - free.mean()) ** 2).sum() if len(free) else 0.0)
        spread = math.sqrt(squares / (KEEPS_ON_WEIGHT + max(0, len(free) - 1)))
        away = (kept[:, None] - _LONGEST) / spread
        told = np.where(rung[:, None], scipy.special.log_ndtr(-away), -0.5 * away**2).sum(axis=0)
        likely = told - 0.5 * ((_LONGEST - math.log(KEEPS_ON)) / KEEPS_ON_SD) ** 2
        believed = np.exp(likely - likely.max())
        return believed / believed.sum(), spread

    def _curves(self) -> tuple[Array, Array]:
        """Distributions of error, a row each, and their weights: the shapes that were seen, each in every size that a
        hold of this person may have, and those of before."""
        before = np.array([cv * 30.0 / _usual(30.0) * _HALF_NORMAL for cv in PRIOR_CV])
        weights = np.full(len(before), PRIOR_WEIGHT / len(before))
        if not self._errors:
            return before, weights
        seen = np.array(self._errors)
        sizes = np.log(np.sqrt((seen**2).mean(axis=1)))
        unlike = UNLIKE_WEIGHT * UNLIKE**2 + ((sizes - sizes.mean()) ** 2).sum()
        spread = math.sqrt(unlike / (UNLIKE_WEIGHT + len(sizes) - 1))
        shapes = seen / np.exp(sizes)[:, None]
        possible = np.exp(sizes.mean() + spread * _STEPS)
        own = (possible[:, None, None] * shapes).reshape(-1, shapes.shape[1])
        return np.vstack([own, before]), np.concatenate([np.full(len(own), len(seen) / len(own)), weights])


def _usual(target_pct: float | Array) -> Array:
    """What the size of the error goes with."""
    return np.asarray(np.asarray(target_pct, dtype=float) ** (1.0 + GROWTH))
