"""Where effort stands between two marks: the target always at the same height, the band's edges to scale around it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

# Heights as shares of the way from nothing to the most that is shown. The target is always at the same place; the
# band's edges lie to scale around it, but never so near that they cannot be told apart, nor so far that there is no room above.
TARGET_HEIGHT = 0.66
LEAST_BAND, MOST_BAND = 0.075, 0.16  # half of the band


@dataclass(frozen=True)
class Gauge:
    """The height that shows an effort, with the band's edges at marks that can be told apart."""

    low: float
    high: float
    low_height: float
    high_height: float

    @classmethod
    def of(cls, low: float, target: float, high: float) -> Gauge:
        """For a band in fractions of the MVC; low < high."""
        per_effort = TARGET_HEIGHT / max(target, 1e-6)
        below = min(max((target - low) * per_effort, LEAST_BAND), MOST_BAND)
        above = min(max((high - target) * per_effort, LEAST_BAND), MOST_BAND)
        return cls(low, high, TARGET_HEIGHT - below, TARGET_HEIGHT + above)

    def height(self, effort: float) -> float:
        """0 (nothing) to 1 (the top); the same side of each mark as the effort is of the band's edge."""
        efforts = (0.0, self.low, self.high, self.high + max(self.high - self.low, 0.6 * self.high))
        return float(np.interp(effort, efforts, (0.0, self.low_height, self.high_height, 1.0)))
