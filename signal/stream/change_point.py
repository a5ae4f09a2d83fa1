"""Where the size of a signal changed, of which the newest powers are known."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def most_likely_change(powers: Sequence[float], *, rising: bool) -> int:
    """Where a stretch of at least two powers splits best into two Gaussian signals, the second larger (or smaller).

    The maximum-likelihood change of variance; returns the index of the first power of the second part, or 0 if the
    power nowhere changes in that direction.
    """
    values = np.maximum(np.asarray(powers, float), 1e-12 * (max(powers) or 1.0))
    count = np.arange(1, len(values))
    total = np.cumsum(values)
    before = total[:-1] / count
    after = np.maximum(total[-1] - total[:-1], values.min()) / (len(values) - count)
    cost = count * np.log(before) + (len(values) - count) * np.log(after)
    possible = after > before if rising else after < before
    return int(np.argmin(np.where(possible, cost, np.inf))) + 1 if possible.any() else 0


def after_last_pause(powers: Sequence[float], quiet: float, length: int, filled: float) -> int:
    """The index after the last pause of a length in which such a share lies below `quiet`; 0 if there is none."""
    below = np.array(powers) < quiet
    if len(below) < length:
        return 0
    pauses = np.flatnonzero(np.convolve(below, np.full(length, 1.0 / length), "valid") >= filled)
    return int(pauses[-1]) + length if len(pauses) else 0


def last_above(powers: Sequence[float], threshold: float, size: int) -> int:
    """The index after the last power whose mean with its neighbours, `size` in all, is above; 0 if there is none."""
    size = min(size, len(powers))
    above = np.flatnonzero(np.convolve(powers, np.full(size, 1.0 / size), "same") > threshold)
    return int(above[-1]) + 1 if len(above) else 0
