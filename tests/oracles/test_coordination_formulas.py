"""Published indices of symmetry and co-contraction."""

from __future__ import annotations

import math

import numpy as np
import pytest
from musclewood.profiles.plan.comparing import compare_sides
from musclewood.signal.measures.coordination import falconer_winter_percent, rudolph

A, B = [0.2, 0.4, 0.6, 0.4], [0.1, 0.5, 0.2, 0.2]


def test_limb_symmetry_index() -> None:
    """Common usage: involved over uninvolved in percent; the deficit is what is missing to 100."""
    sides = compare_sides([162.0] * 3, [180.0] * 3)
    assert (sides.lsi, sides.deficit) == (pytest.approx(90.0), pytest.approx(10.0))


@pytest.mark.parametrize(("cv", "half_width"), [(0.03, 8.3), (0.05, 13.9), (0.10, 27.7)])
def test_noise_of_an_index_near_100(cv: float, half_width: float) -> None:
    """Error propagation: 1.96*sqrt(2)*CV. With trials that agree, only the variation between measurements remains."""
    comparison = compare_sides([180.0] * 3, [180.0] * 3, between_cv=cv)
    assert 50.0 * math.log(comparison.high / comparison.low) == pytest.approx(half_width, rel=0.01)


def test_falconer_and_winter() -> None:
    """Falconer & Winter 1985, by sums: 2*0.9/2.6 (trapezoids give 69.77, the mean of pointwise ratios 68.06)."""
    assert falconer_winter_percent(A, B) == pytest.approx(69.2308, abs=1e-4)
    assert falconer_winter_percent(A, B) == pytest.approx(100.0 * 2.0 * 0.9 / 2.6)


def test_falconer_and_winter_never_exceeds_100_and_is_symmetric() -> None:
    """Unlike the variant without min() that is seen in public code."""
    random = np.random.default_rng(2)
    for _ in range(50):
        one, other = random.random(20), random.random(20) * random.random()
        index = falconer_winter_percent(one, other)
        assert 0.0 <= index <= 100.0
        assert index == pytest.approx(falconer_winter_percent(other, one))


def test_rudolph() -> None:
    """Rudolph et al. 2000: points 0.15, 0.72, 0.26667 and 0.3."""
    points = [rudolph([a], [b]) for a, b in zip(A, B, strict=True)]
    assert points == pytest.approx([0.15, 0.72, 0.266667, 0.3], abs=1e-6)
    assert rudolph(A, B) == pytest.approx(0.359167, abs=1e-6)
    assert rudolph([1.0, 1.0], [1.0, 1.0]) == pytest.approx(2.0)
    assert rudolph([0.0, 0.0], [0.0, 0.0]) == 0.0
