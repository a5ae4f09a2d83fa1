"""What happens at the kiln. Pure: the same views and events give the same evening.

The flame shows effort as it is. Everything else answers: the pot fires while the rep engine grants time in the band,
smoke gathers above it, the yard dims for a rest, a window lights for every rep. Nothing here decides whether a rep
counts, and heat beyond the band adds nothing to a pot.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

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
from musclewood.games.workshops.gauge import Gauge

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

CRACKLE_EVERY_S = 0.55


class KilnRules(Craft):
    """The evening at the kiln. Heights and shares are 0..1; see `Gauge` for the flame."""

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        super().__init__("kiln", planned, shelf, today)
        self.seed = seed
        self.gauge = Gauge.of_plan(planned)
        self.mark_low, self.mark_high = self.gauge.low_height, self.gauge.high_height
        self.attempt = 0
        self.flame = self.core = self.fired = 0.0
        self.glow = self.smoke = 0.0
        self._crackle_s = 0.0

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        self._burn(step_s, view)
        self._answer(step_s, view)
        self.pass_time(step_s, view)
        self.drone = tone_of(view, self.glow, self.smoke)
        return cues + self._crackle(step_s, view)

    # --- what the rep engine told ------------------------------------------------------------------------------
    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                return [SoundCue("clay", gain=0.6)]
            case EffortStarted():
                self.attempt += 1
                self.fired = 0.0
            case RepMade(rep):
                self.fired = 0.0
                return [self.keep(rep), SoundCue("clay", gain=0.8)]
            case RepMissed():
                self.fired = 0.0
                return [SoundCue("sigh", gain=0.55)]
        return self.ended(event)

    # --- what the muscle does: at once --------------------------------------------------------------------------
    def _burn(self, step_s: float, view: RepView) -> None:
        self.gauge = Gauge.of(view.low, view.target, view.high)
        self.mark_low = approach(self.mark_low, self.gauge.low_height, step_s, ANSWER_S)
        self.mark_high = approach(self.mark_high, self.gauge.high_height, step_s, ANSWER_S)
        if view.readable:
            self.flame = self.gauge.height(view.activation[0])
            self.core = self.gauge.height(view.level[0])
        else:
            self.flame = self.core = 0.0
        if view.phase == "effort":
            self.fired = min(view.held_s / view.hold_s, 1.0) if view.hold_s > 0 else 0.0

    # --- what the world answers: eased --------------------------------------------------------------------------
    def _answer(self, step_s: float, view: RepView) -> None:
        working = view.phase == "effort"
        self.glow = approach(self.glow, 1.0 if working and view.in_band else 0.0, step_s, ANSWER_S)
        self.smoke = approach(self.smoke, 1.0 if view.over and view.readable else 0.0, step_s, ANSWER_S)

    # --- what is heard ------------------------------------------------------------------------------------------
    def _crackle(self, step_s: float, view: RepView) -> list[SoundCue]:
        self._crackle_s += step_s * (0.4 + 1.6 * self.flame)
        if view.phase != "effort" or self._crackle_s < CRACKLE_EVERY_S:
            return []
        self._crackle_s = 0.0
        return [SoundCue("crackle", degree=self.attempt % 3, gain=0.45 + 0.15 * self.flame)]
