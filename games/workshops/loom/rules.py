"""What happens at the loom. Pure: the same views and events give the same evening.

The cloth grows row by row from below. The pattern is dyed into the warp as a figure, so that all of it is seen before
it is woven; two shuttles stand as far from the middle as the effort is. Row by row the cloth takes the effort as it
was. Nothing here decides whether a repetition counts: a band leaves the loom on `RepMade` alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from musclewood.games.engine.judging import PROFILE_POINTS
from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortStarted,
    RepEvent,
    RepMade,
    RepMissed,
    RepView,
)
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.motion import approach
from musclewood.games.workshops import SoundCue
from musclewood.games.workshops.craft import ANSWER_S, tone_of
from musclewood.games.workshops.follow import BACK_S, LEAD_S, Following
from musclewood.games.workshops.loom.designs import REACH, Design, design_of

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

LEAD_SHARE = 0.3  # of a short pattern no more than this share of its length is waited before it begins


class LoomRules(Following):
    """The evening at the loom. Heights are shares of the cloth's width, 0 at the fold, 1 at the outer edge."""

    reach = REACH

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        super().__init__("loom", planned, shelf, today)
        self.seed = seed
        self._lead = min(1.0, LEAD_SHARE * planned.hold_s / LEAD_S)
        self.at_s = -LEAD_S * self._lead  # the moment of the pattern that is woven now
        self.shuttle = self.thread = 0.0
        self.woven: list[float] = []  # one height a finished cell
        self.unpicked = 0.0  # 1 just after a miss, falling: the cloth is taken back
        self.glow = self.slack = self.strain = 0.0
        self.wound = 0.0  # cloth on the beam, eased
        self.attempt = 0
        self._cell: list[float] = []

    @property
    def design(self) -> Design:
        return design_of(self.place)

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        self._throw(view)
        self._wind(step_s, view)
        self._weave(view)
        self._answer(step_s, view)
        self.pass_time(step_s, view)
        self.drone = tone_of(view, self.glow, self.strain)
        return cues + self._guide(view)

    # --- what the rep engine told ------------------------------------------------------------------------------
    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                self._clear()
                self.guide.restart()
                return [SoundCue("slide", gain=0.9)]
            case EffortStarted():
                self.attempt += 1
                self._clear()
            case RepMade(rep):
                self.woven, self._cell = [], []  # it is cut off, opened and hung up
                return [SoundCue("beat"), self.keep(rep)]
            case RepMissed():
                self.unpicked = 1.0
                return [SoundCue("sigh", gain=0.55)]
        return self.ended(event)

    def _clear(self) -> None:
        self.woven, self._cell = [], []
        self.unpicked = 0.0

    # --- what the muscle does: at once --------------------------------------------------------------------------
    def _throw(self, view: RepView) -> None:
        self.shuttle, self.thread = self.follow(view)

    def _weave(self, view: RepView) -> None:
        if view.phase != "effort" or not view.readable:
            return
        self._cell.append(self.shuttle)
        due = min(int(PROFILE_POINTS * view.effort_s / self.hold_s), PROFILE_POINTS)
        if len(self.woven) < due:
            height = float(np.mean(self._cell))
            self.woven += [height] * (due - len(self.woven))
            self._cell = []

    # --- what the world answers: eased --------------------------------------------------------------------------
    def _wind(self, step_s: float, view: RepView) -> None:
        """Bring the warp to where time has come; between attempts wind on to the next pattern."""
        match view.phase:
            case "effort":
                self.at_s = view.effort_s
            case "ready":
                self.at_s = -view.left_s * self._lead
            case _:
                self.at_s = approach(self.at_s, -LEAD_S * self._lead, step_s, BACK_S)
        self.lead(step_s, view, self.at_s)

    def _answer(self, step_s: float, view: RepView) -> None:
        working = view.phase == "effort" and view.readable
        above = working and not self.within and self.thread >= self.gate
        below = working and not self.within and self.thread < self.gate
        self.glow = approach(self.glow, float(self.within), step_s, ANSWER_S)
        self.strain = approach(self.strain, float(above), step_s, ANSWER_S)
        self.slack = approach(self.slack, float(below), step_s, ANSWER_S)
        self.wound = approach(self.wound, self.windows_lit, step_s, BACK_S)
        if self.unpicked > 0.0:
            self.unpicked = approach(self.unpicked, 0.0, step_s, 2 * ANSWER_S)
            if self.unpicked < 0.02:
                self._clear()

    # --- what is heard ------------------------------------------------------------------------------------------
    def _guide(self, view: RepView) -> list[SoundCue]:
        """A thread is plucked shortly before each turn of the pattern, at the pitch that the drone should come to."""
        due = self.guide.due(view)
        return [] if due is None else [SoundCue(f"thread_{due}", gain=1.0)]
