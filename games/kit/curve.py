"""A smooth curve through points that never swings beyond them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]


def through(places: Sequence[float] | Vector, values: Sequence[float] | Vector, at: Vector) -> Vector:
    """The curve through at least three points, `places` rising, at every place of `at` (n,): (n,).

    Piecewise cubic Hermite interpolation with the slopes of Fritsch & Butland (SIAM J Sci Stat Comput 1984; 5:
    300-304), at the ends those of Moler (Numerical Computing with MATLAB, 2004, 3.6): between two points it goes one
    way only. With numpy alone, since Today draws with it before anything else is loaded.
    """
    x, y = np.asarray(places, dtype=float), np.asarray(values, dtype=float)
    wide = np.diff(x)
    rise = np.diff(y) / wide
    slopes = np.concatenate(([_at_end(wide, rise)], _inner(wide, rise), [_at_end(wide[::-1], rise[::-1])]))
    part = np.clip(np.searchsorted(x, at, side="right") - 1, 0, wide.size - 1)
    share = (at - x[part]) / wide[part]
    rest = 1.0 - share
    curve: Vector = (
        y[part] * (1 + 2 * share) * rest**2
        + y[part + 1] * (1 + 2 * rest) * share**2
        + wide[part] * share * rest * (slopes[part] * rest - slopes[part + 1] * share)
    )
    return curve


def _inner(wide: Vector, rise: Vector) -> Vector:
    """The weighted harmonic mean of the rises on both sides, level where they differ in sign."""
    before, after = 2 * wide[1:] + wide[:-1], wide[1:] + 2 * wide[:-1]
    same = rise[:-1] * rise[1:] > 0
    left, right = np.where(same, rise[:-1], 1.0), np.where(same, rise[1:], 1.0)
    return np.where(same, (before + after) / (before / left + after / right), 0.0)


def _at_end(wide: Vector, rise: Vector) -> float:
    """From three points, as far as that keeps to the first piece's way."""
    slope = ((2 * wide[0] + wide[1]) * rise[0] - wide[0] * rise[1]) / (wide[0] + wide[1])
    if np.sign(slope) != np.sign(rise[0]):
        return 0.0
    steep = np.sign(rise[0]) != np.sign(rise[1]) and abs(slope) > 3 * abs(rise[0])
    return float(3 * rise[0] if steep else slope)
