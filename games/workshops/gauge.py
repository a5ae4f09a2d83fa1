"""Where effort stands between two marks: the target always at the same height, the band's edges to scale around it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from musclewood.games.engine.judging import aim_of
from musclewood.profiles.plan.dose import PlannedExercise

# Heights as shares of the way from nothing to the most that is shown. The target is always at the same place; the
# band's edges lie to scale around it, but never so near that they cannot be told apart, nor so far that there is no
# room above.
TARGET_HEIGHT = 0.66
LEAST_BAND, MOST_BAND = 0.075, 0.16  # half of the band
CEILING_HEIGHT = 0.93  # of the effort ceiling, where at least the target is asked for


@dataclass(frozen=True)
class Gauge:
    """The height that shows an effort, with the band's edges at marks that can be told apart."""

    low: float
    high: float
    low_height: float
    high_height: float

    @classmethod
    def of(cls, low: float, target: float, high: float) -> Gauge:
        """For a band in fractions of the MVC; low < high. A target that is the lower edge itself is open above."""
        per_effort = TARGET_HEIGHT / max(target, 1e-6)
        below = min(max((target - low) * per_effort, LEAST_BAND), MOST_BAND)
        above = min(max((high - target) * per_effort, LEAST_BAND), MOST_BAND)
        if low >= target:
            below, above = LEAST_BAND, CEILING_HEIGHT - TARGET_HEIGHT
        return cls(low, high, TARGET_HEIGHT - below, TARGET_HEIGHT + above)

    @classmethod
    def of_plan(cls, planned: PlannedExercise) -> Gauge:
        """As the exercise begins."""
        aim = aim_of(planned, planned.target_pct_mvc)
        return cls.of(aim.low, aim.target, aim.high)

    def height(self, effort: float) -> float:
        """0 (nothing) to 1 (the top); the same side of each mark as the effort is of the band's edge."""
        efforts = (0.0, self.low, self.high, self.high + max(self.high - self.low, 0.6 * self.high))
        return float(np.interp(effort, efforts, (0.0, self.low_height, self.high_height, 1.0)))
