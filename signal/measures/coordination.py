"""How two muscles work together: co-contraction indices."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def falconer_winter_percent(first: ArrayLike, second: ArrayLike) -> float:
    """Co-contraction in percent of all activity, by the ratio of *sums*: 200 * sum(min) / sum(first + second).

    first, second: activation or amplitude over the same ticks, shape (n,), never negative. Ticks where either is not
    known (NaN) are left out; two silent muscles give 0. 0 is no overlap, 100 is equal activity throughout.
    Source: Falconer & Winter 1985, Electromyogr Clin Neurophysiol 25:135. Trapezoids or the mean of pointwise ratios
    give other numbers; this is the sums rule throughout.
    """
    low, high = _low_and_high(first, second)
    total = float(np.sum(low + high))
    return 200.0 * float(np.sum(low)) / total if total > 0.0 else 0.0


def rudolph(first: ArrayLike, second: ArrayLike) -> float:
    """Co-contraction that weighs how large both are: mean of (low / high) * (low + high); 0/0 counts as 0.

    first, second: as for `falconer_winter_percent`; for activations of 0..1 the index lies between 0 and 2.
    Source: Rudolph et al. 2000, Knee Surg Sports Traumatol Arthrosc 8:262.
    """
    low, high = _low_and_high(first, second)
    if len(low) == 0:
        return 0.0
    ratio = np.divide(low, high, out=np.zeros_like(low), where=high > 0.0)
    return float(np.mean(ratio * (low + high)))


def _low_and_high(first: ArrayLike, second: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    a = np.asarray(first, dtype=np.float64)
    b = np.asarray(second, dtype=np.float64)
    if a.shape != b.shape or a.ndim != 1:
        raise ValueError(f"both must have the same shape (n,), got {a.shape} and {b.shape}")
    known = np.isfinite(a) & np.isfinite(b)
    a, b = a[known], b[known]
    if np.any(a < 0.0) or np.any(b < 0.0):
        raise ValueError("activity must not be negative: give activation or amplitude, not raw samples")
    return np.minimum(a, b), np.maximum(a, b)
