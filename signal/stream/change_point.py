"""Where the size of a signal most likely changed."""

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
