"""A pattern that can be heard: a note shortly before each of its turns, at the pitch that the drone should come to.
Pure."""

from __future__ import annotations

import numpy as np
from musclewood.games.engine.rep_events import RepView
from numpy.typing import NDArray

# Semitones above the root: the village's scale, over the range of the drone (see `drone_hz`).
GUIDE_STEPS = (-5, -3, 0, 2, 4, 7, 9)
GUIDE_S = 0.45  # a note sounds so long before the pattern turns: time to hear it and to move


class Guide:
    """Remembers which turns of a pattern were announced."""

    def __init__(self, pattern: NDArray[np.float64], hold_s: float) -> None:
        self._pattern, self._hold_s = pattern, hold_s
        self._told = -1

    def restart(self) -> None:
        """From the first turn again."""
        self._told = -1

    def due(self, view: RepView) -> int | None:
        """Number in GUIDE_STEPS of the note that is due now, if one is."""
        if view.phase not in ("ready", "effort"):
            return None
        turns, now_s = self._pattern.size - 1, view.effort_s - view.left_s
        due = int(np.floor((now_s + GUIDE_S) * turns / self._hold_s + 1e-9))
        if due <= self._told or due > turns:
            return None
        self._told = due
        return note_of(float(self._pattern[due]))


def note_of(height: float) -> int:
    """Which of GUIDE_STEPS has the pitch of the drone at this effort, a multiple of the target."""
    wanted = -5.0 + 12.0 * height
    return min(range(len(GUIDE_STEPS)), key=lambda n: abs(GUIDE_STEPS[n] - wanted))
