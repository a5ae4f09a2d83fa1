"""What the rules of workshops share in which effort follows a pattern: heights, the gate that leads, whether it is
followed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from musclewood.games.engine.judging import SMOOTHING_S
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.motion import approach
from musclewood.games.workshops.craft import Craft
from musclewood.games.workshops.guide import Guide

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

LEAD_S = 2.0  # the engine begins by itself so long after the cue
BACK_S = 1.1  # until everything stands where the next pattern begins


class Following(Craft):
    """Heights are 0..1, 1 at `reach` times the target. `gate` is the middle of what is asked now, `half` its half
    width."""

    reach: ClassVar[float]

    def __init__(self, workshop: str, planned: PlannedExercise, shelf: Sequence[Product], today: date) -> None:
        super().__init__(workshop, planned, shelf, today)
        self.pattern = np.asarray(planned.pattern or (1.0, 1.0), dtype=np.float64)
        self.hold_s = planned.hold_s
        self.half = self.height_of(planned.tolerance_pct_mvc / 100, planned.target_pct_mvc / 100)
        self.gate = self.pattern_height(0.0)
        self.within = False
        self.guide = Guide(self.pattern, planned.hold_s)

    @classmethod
    def height_of(cls, effort: float, target: float) -> float:
        """Height of an effort; straight, so that twice the effort stands twice as high."""
        return min(max(effort / max(cls.reach * target, 1e-6), 0.0), 1.0)

    def pattern_height(self, moment_s: float) -> float:
        """Height that the pattern asks at a moment; before and after it, that of its ends."""
        times = np.linspace(0.0, self.hold_s, self.pattern.size)
        return float(np.interp(moment_s, times, self.pattern)) / self.reach

    def follow(self, view: RepView) -> tuple[float, float]:
        """Heights of the effort as the sensor says and as the judge sees it, 0 where neither can; tells whether it is
        `within`."""
        self.half = max(view.high - view.target, 0.0) / max(self.reach * view.target, 1e-6)
        # The judge looks at a short average, and takes its delay off the pattern: so does the picture.
        # Compared as efforts: a height ends at the edge, an effort does not.
        wanted = self.reach * self.pattern_height(view.effort_s - SMOOTHING_S / 2) * view.target
        near = abs(view.level[0] - wanted) <= max(view.high - view.target, 0.0)
        self.within = view.phase == "effort" and view.readable and near
        if not view.readable:
            return 0.0, 0.0
        return self.height_of(view.activation[0], view.target), self.height_of(view.level[0], view.target)

    def lead(self, step_s: float, view: RepView, at_s: float) -> None:
        """Bring the gate to what the pattern asks at `at_s`: at once while somebody works, else in its own time."""
        wanted = self.pattern_height(at_s - (SMOOTHING_S / 2 if view.phase == "effort" else 0.0))
        moving = view.phase in ("effort", "ready")
        self.gate = wanted if moving else approach(self.gate, wanted, step_s, BACK_S)
