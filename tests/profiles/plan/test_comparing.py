"""Sides compared: the stated interval, and refusal of what cannot be compared."""

from __future__ import annotations

import math

import numpy as np
import pytest
from musclewood.profiles.plan.comparing import compare_sides


@pytest.mark.parametrize(("within", "between"), [(0.05, 0.20), (0.15, 0.20), (0.10, 0.05)])
def test_stated_interval_covers_the_true_index(full: bool, within: float, between: float) -> None:
    """Three trials a side; each session's electrodes and day shift a side as a whole. True index 80 %."""
    runs = 20_000 if full else 3_000
    random = np.random.default_rng(round(1000 * within + 100_000 * between))
    day = math.sqrt(math.log1p(between**2))
    covered = settled = 0
    for _ in range(runs):
        shifts = np.exp(day * random.standard_normal(2))
        trials = np.exp(within * random.standard_normal((2, 3)))
        found = compare_sides(160.0 * shifts[0] * trials[0], 200.0 * shifts[1] * trials[1], between_cv=between)
        covered += found.low <= 80.0 <= found.high
        settled += not found.low < 90.0 <= found.high
    assert 0.93 <= covered / runs <= 0.97
    if between == 0.20:
        assert settled / runs < 0.25, "one session can hardly ever settle a criterion of 90 %"


def test_without_variation_between_measurements_the_interval_would_be_far_too_narrow() -> None:
    """What leaving it out costs: the check above can fail."""
    random = np.random.default_rng(1)
    covered = 0
    for _ in range(500):
        shifts = np.exp(0.2 * random.standard_normal(2))
        trials = np.exp(0.05 * random.standard_normal((2, 3)))
        found = compare_sides(160.0 * shifts[0] * trials[0], 200.0 * shifts[1] * trials[1], between_cv=0.0)
        covered += found.low <= 80.0 <= found.high
    assert covered / 500 < 0.5


def test_the_whole_interval_of_a_much_weaker_side_lies_below() -> None:
    near = compare_sides([160.0, 162.0, 158.0], [180.0, 181.0, 179.0])
    assert near.low < 90.0 < near.high
    weak = compare_sides([60.0, 62.0, 58.0], [180.0, 181.0, 179.0])
    assert weak.high < 90.0


@pytest.mark.parametrize("trials", [[], [100.0], [100.0, 0.0, 90.0], [100.0, float("nan")], [100.0, -5.0]])
def test_unusable_trials_are_refused(trials: list[float]) -> None:
    with pytest.raises(ValueError, match="involved side"):
        compare_sides(trials, [100.0, 101.0])
