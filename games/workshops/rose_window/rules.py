"""What happens at the rose window. Pure: the same views and events give the same evening.

An arm goes once round the wheel in the time of a repetition. Effort pushes the setting iron out along it, and pane by
pane the wheel is filled with glass as far out as the effort was. Two lead lines say how far is asked. Nothing here
decides whether a repetition counts: a window leaves the wheel on `RepMade` alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from musclewood.games.engine.judging import PROFILE_POINTS
from musclewood.games.engine.rep_events import CueGiven, EffortStarted, RepEvent, RepMade, RepMissed, RepView
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.motion import approach
from musclewood.games.workshops import SoundCue
from musclewood.games.workshops.craft import ANSWER_S, tone_of
from musclewood.games.workshops.follow import BACK_S, LEAD_S, Following
from musclewood.games.workshops.rose_window.glass import REACH, Design, design_of

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

LEAD_TURN = 0.09  # of a whole turn that the arm stands before the top, two seconds before a repetition begins


@dataclass(frozen=True)
class Pane:
    """One slice of glass: how far out it reaches, 0..1, and whether that was asked."""

    height: float
    true: bool


class RoseRules(Following):
    """The evening at the wheel. Heights are shares of the way from hub to rim, turns are shares of the whole round."""

    reach = REACH

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        super().__init__("rose_window", planned, shelf, today)
        self.turn = -LEAD_TURN
        self.iron = self.setting = 0.0  # where the iron stands: as the sensor says, and as the judge sees it
        self.panes: list[Pane] = []
        self.broken = 0.0  # 1 just after a miss, falling: the glass is taken out again
        self.glow = self.strain = 0.0
        self._slice: list[float] = []

    @property
    def design(self) -> Design:
        """The glass now in the crate."""
        return design_of(self.place)

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        self._push(view)
        self._go_round(step_s, view)
        self._set(view)
        self._answer(step_s, view)
        self.pass_time(step_s, view)
        self.drone = tone_of(view, self.glow, self.strain)
        due = self.guide.due(view)
        return cues if due is None else [*cues, SoundCue(f"glass_{due}", gain=1.0)]

    # --- what the rep engine told ------------------------------------------------------------------------------
    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                self._clear()
                self.guide.restart()
                return [SoundCue("ratchet", gain=0.8)]
            case EffortStarted():
                self._clear()
            case RepMade(rep):
                self._clear()
                return [self.keep(rep), SoundCue("set", gain=1.0)]
            case RepMissed():
                self.broken = 1.0
                return [SoundCue("sigh", gain=0.55)]
        return self.ended(event)

    def _clear(self) -> None:
        self.panes, self._slice, self.broken = [], [], 0.0

    # --- what the muscle does: at once --------------------------------------------------------------------------
    def _push(self, view: RepView) -> None:
        self.iron, self.setting = self.follow(view)

    def _set(self, view: RepView) -> None:
        if view.phase != "effort" or not view.readable:
            return
        self._slice.append(self.iron)
        due = min(int(PROFILE_POINTS * view.effort_s / self.hold_s), PROFILE_POINTS)
        if len(self.panes) < due:
            pane = Pane(float(np.mean(self._slice)), self.within)
            self.panes += [pane] * (due - len(self.panes))
            self._slice = []

    # --- what the world answers: eased --------------------------------------------------------------------------
    def _go_round(self, step_s: float, view: RepView) -> None:
        """Bring the arm to where time has come; between attempts it goes back to its beginning."""
        match view.phase:
            case "effort":
                self.turn = view.effort_s / self.hold_s
            case "ready":
                self.turn = -LEAD_TURN * min(view.left_s / LEAD_S, 1.0)
            case _:
                self.turn = approach(self.turn, -LEAD_TURN, step_s, BACK_S)
        self.lead(step_s, view, self.turn * self.hold_s)

    def _answer(self, step_s: float, view: RepView) -> None:
        working = view.phase == "effort" and view.readable
        above = working and not self.within and self.setting >= self.gate
        self.glow = approach(self.glow, float(self.within), step_s, ANSWER_S)
        self.strain = approach(self.strain, float(above), step_s, ANSWER_S)
        if self.broken > 0.0:
            self.broken = approach(self.broken, 0.0, step_s, 2 * ANSWER_S)
            if self.broken < 0.02:
                self._clear()
