"""What happens at the mill. Pure: the same views and events give the same evening.

Effort lets water into the forebay: its level is the effort as it is. The opposite muscle lowers the sluice. Only while
the water stands between the sill and the upper mark, and the sluice is above its mark, does the race run, the wheel
turn and grain become flour. More water than that spills over the wall and drowns the wheel. Nothing here decides what
counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
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
from musclewood.games.workshops.craft import ANSWER_S, Craft, tone_of

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

TURN_PER_S = 0.9  # radians of the wheel when the race runs full
GRIND_EVERY_S = 0.62
SPLASH_EVERY_S = 0.9
# The forebay is built of stone: its sill and its upper mark stand at fixed shares of its depth, and the band of the day
# is laid between them, so that a wide band makes calm water and a narrow one lively water.
SILL, MARK = 0.5, 0.76
SHUT = 1.18  # how far a sluice goes down into its slot, as a multiple of the way to its mark
# What the mill gains by sacks made on earlier days; never lost again.
GAINS = (("cat", 12), ("mouse", 24), ("cart", 40), ("bunting", 72), ("mice", 120))


def water_height(effort: float, low: float, high: float) -> float:
    """0 (dry) to 1 (the rim); the same side of sill and mark as the effort is of the band's edges."""
    low = max(low, 1e-6)
    efforts = (0.0, low, high, high + max(high - low, 0.6 * high))
    return float(np.interp(effort, efforts, (0.0, SILL, MARK, 1.0)))


def gate_way(opposite: float, ceiling: float) -> float:
    """How far the sluice is down: 0 open, 1 at its mark, never more than SHUT."""
    return float(np.clip(opposite / max(ceiling, 1e-6), 0.0, SHUT))


class MillraceRules(Craft):
    """The evening at the mill. `water` and `float_height` are heights in the forebay, `gate` the way of the sluice."""

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        super().__init__("millrace", planned, shelf, today)
        self.seed = seed
        self.gains = frozenset(name for name, count in GAINS if len(self.before) >= count)
        self.attempt = 0
        self.water = self.float_height = self.gate = self.ground = 0.0
        self.grain = 1.0  # in the hopper; what is left of the hold
        self.running = False
        self.race = self.spill = self.blocked = 0.0
        self.wheel = 0.0  # radians turned
        self._grind_s = self._splash_s = 0.0

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        self._let_in(view)
        self._answer(step_s, view)
        self.pass_time(step_s, view)
        self.drone = tone_of(view, self.race, max(self.spill, self.blocked))
        return cues + self._sounds_of_work(step_s, view)

    # --- what the rep engine told ------------------------------------------------------------------------------
    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                return [SoundCue("knock", gain=0.6)]
            case EffortStarted():
                self.attempt += 1
                self.ground = 0.0
            case RepMade(rep):
                self.ground = 0.0
                return [self.keep(rep), SoundCue("thud", gain=0.8)]
            case RepMissed():
                self.ground = 0.0
                return [SoundCue("sigh", gain=0.55)]
        return self.ended(event)

    # --- what the muscles do: at once ---------------------------------------------------------------------------
    def _let_in(self, view: RepView) -> None:
        if not view.readable:
            self.water = self.float_height = self.gate = 0.0
            self.running = False
            return
        self.water = water_height(view.activation[0], view.low, view.high)
        self.float_height = water_height(view.level[0], view.low, view.high)
        self.gate = self._gate(view, view.activation)
        open_enough = self._gate(view, view.level) <= 1.0
        self.running = view.low <= view.level[0] <= view.high and open_enough
        if view.phase == "effort":
            self.ground = min(view.held_s / view.hold_s, 1.0) if view.hold_s > 0 else 0.0

    @staticmethod
    def _gate(view: RepView, muscles: tuple[float, ...]) -> float:
        if view.opposite_ceiling is None or len(muscles) < 2:
            return 0.0
        return gate_way(muscles[1], view.opposite_ceiling)

    # --- what the world answers: eased --------------------------------------------------------------------------
    def _answer(self, step_s: float, view: RepView) -> None:
        over = view.readable and view.over
        shut = view.readable and not over and not self.running and view.level[0] >= view.low
        self.race = approach(self.race, 1.0 if self.running else 0.0, step_s, ANSWER_S)
        self.spill = approach(self.spill, 1.0 if over else 0.0, step_s, ANSWER_S)
        self.blocked = approach(self.blocked, 1.0 if shut else 0.0, step_s, ANSWER_S)
        full = 1.0 - self.ground
        self.grain = full if full < self.grain else approach(self.grain, full, step_s, ANSWER_S)
        self.wheel += TURN_PER_S * self.race * step_s

    # --- what is heard ------------------------------------------------------------------------------------------
    def _sounds_of_work(self, step_s: float, view: RepView) -> list[SoundCue]:
        """Stones that grind while flour is made; a splash now and then where water is wasted."""
        if view.phase != "effort":
            return []
        self._grind_s += step_s * self.race
        self._splash_s += step_s * self.spill
        if self._grind_s >= GRIND_EVERY_S:
            self._grind_s = 0.0
            return [SoundCue("grind", gain=0.55 + 0.2 * self.ground)]
        if self._splash_s >= SPLASH_EVERY_S:
            self._splash_s = 0.0
            return [SoundCue("splash", gain=0.55)]
        return []
