"""How well somebody manages an exercise: a Bayesian logistic model of success against difficulty.

Ask and tell: `ask` gives the difficulty at which success is expected to be the one aimed at, `tell` takes in reps.
Difficulty is a level from 0 (the easiest that the therapist allows) over 0.5 (as ordered) to 1 (the hardest allowed).
Everything is deterministic: the same reps give the same state.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

# A rep may fail whatever the skill (a cough, a look aside): the ceiling of success. Our choice, as is usual for
# psychometric functions (Watson 2017 uses a lapse of 0.02).
LAPSE = 0.02
# Before anything is known, the order is believed to suit: success at 0.5 about as aimed at, give or take a
# quarter of the range (our choice).
PRIOR_SD = 0.25
# Logits per level. A person's success falls from 88 to 50 % over 0.5 of a level at 4, over 0.13 at 16. Our choice.
SLOPES = (4.0, 5.7, 8.0, 11.3, 16.0)
# How far skill may wander between two sessions (SD, in levels): hardly, somewhat, or by a third of the range in six
# weeks. Which of them fits is learned along the way. Our choice.
WANDERS_PER_SESSION = (0.005, 0.015, 0.04)
# Reps of one session share the day's form, so they say a little less than as many independent ones. Our choice.
WEIGHT_OF_A_REP = 0.85

_SKILLS = np.linspace(-1.0, 2.0, 121)
_LEVELS = np.linspace(0.0, 1.0, 101)
_STEP = float(_SKILLS[1] - _SKILLS[0])

Array = NDArray[np.float64]


def success_at(level: float | Array, skill: float | Array, slope: float | Array) -> Array:
    """Probability that a rep succeeds. `skill` is the level at which half of the reps would, were there no lapses."""
    return np.asarray((1 - LAPSE) / (1 + np.exp(-np.asarray(slope) * (np.asarray(skill) - level))))


_SLOPE_GRID, _SKILL_GRID = np.meshgrid(np.asarray(SLOPES), _SKILLS, indexing="ij")
_SUCCESS = success_at(_LEVELS[:, None, None], _SKILL_GRID, _SLOPE_GRID).reshape(len(_LEVELS), -1)


class SkillModel:
    """What is believed about one person's skill at one exercise: a probability for each wander, slope and skill."""

    def __init__(self, success_target: float = 0.8) -> None:
        self._target = success_target
        self._belief = np.stack([_prior(success_target)] * len(WANDERS_PER_SESSION)) / len(WANDERS_PER_SESSION)

    def tell(self, level: float, made: int, missed: int) -> None:
        """Take in the reps of one session at `level`: how many succeeded and how many did not."""
        chance = success_at(level, _SKILL_GRID, _SLOPE_GRID)
        told = made * np.log(chance) + missed * np.log1p(-chance)
        log_belief = np.log(self._belief + 1e-300) + WEIGHT_OF_A_REP * told
        belief = np.exp(log_belief - log_belief.max())
        self._belief = belief / belief.sum()

    def rest(self) -> None:
        """Take in that a new session begins, before which skill may have moved."""
        self._belief = self._belief @ _wandering()

    def predict(self, level: float) -> float:
        """Probability that the next rep at `level` succeeds, all that is not known about the person averaged over."""
        return float((self._belief * success_at(level, _SKILL_GRID, _SLOPE_GRID)).sum())

    def ask(self) -> float:
        """The level from 0 to 1 at which the predicted success comes nearest to the one aimed at."""
        predicted = _SUCCESS @ self._belief.sum(axis=0).ravel()
        return float(np.interp(-self._target, -predicted, _LEVELS))

    @property
    def skill(self) -> tuple[float, float]:
        """Mean and standard deviation of the believed skill, in levels."""
        weights = self._belief.sum(axis=(0, 1))
        mean = float(weights @ _SKILLS)
        return mean, float(np.sqrt(weights @ (_SKILLS - mean) ** 2))


@cache
def _prior(success_target: float) -> Array:
    """Skill around the value at which the order, all slopes averaged, is expected to succeed exactly as aimed at."""
    low, high = -1.0, 2.0
    for _ in range(60):
        middle = (low + high) / 2
        belief = np.exp(-0.5 * ((_SKILL_GRID - middle) / PRIOR_SD) ** 2)
        belief /= belief.sum()
        expected = float((belief * success_at(0.5, _SKILL_GRID, _SLOPE_GRID)).sum())
        low, high = (middle, high) if expected < success_target else (low, middle)
    return np.asarray(belief)


@cache
def _wandering() -> Array:
    """How a belief moves between two sessions: a matrix for each wander."""
    return np.stack([_spread(np.eye(len(_SKILLS)), wander) for wander in WANDERS_PER_SESSION])


def _spread(belief: Array, sd: float) -> Array:
    """The belief after skill wandered by `sd`: diffusion on the grid, nothing lost at its ends."""
    share = 0.5 * (sd / _STEP) ** 2
    if share > 0.25:  # one step would overshoot: several smaller ones
        half = sd / np.sqrt(2)
        return _spread(_spread(belief, half), half)
    moved = belief.copy()
    flow = share * (belief[:, 1:] - belief[:, :-1])
    moved[:, :-1] += flow
    moved[:, 1:] -= flow
    return moved
