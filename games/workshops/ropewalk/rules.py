"""What happens at the rope walk. Pure: the same views and events give the same evening.

Effort hauls the rope, and the knot in its middle rises as it tightens. While the rep engine grants time in the band,
the wooden top runs along the strands and lays them into rope. Nothing here decides whether a rep counts, and hauling
beyond the band lays nothing: it only frays.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from musclewood.games.engine.rep_events import CueGiven, EffortStarted, RepEvent, RepMade, RepMissed, RepView
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.motion import approach
from musclewood.games.workshops import SoundCue
from musclewood.games.workshops.craft import ANSWER_S, Craft, tone_of
from musclewood.games.workshops.gauge import Gauge
from musclewood.games.workshops.ropewalk.strands import Lay, lay_of

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

CREAK_EVERY_S = 0.7


class RopeRules(Craft):
    """The evening at the rope walk. `haul` is how high the knot hangs, `laid` how far the top has run, both 0..1."""

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        super().__init__("ropewalk", planned, shelf, today)
        self.gauge = Gauge.of_plan(planned)
        self.mark_low, self.mark_high = self.gauge.low_height, self.gauge.high_height
        self.haul = self.laid = self.unlaid = 0.0
        self.glow = self.fray = self.turn = 0.0
        self._creak_s = 0.0

    @property
    def lay(self) -> Lay:
        """Colours and lay of the rope now on the walk."""
        return lay_of(self.place)

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        self._pull(step_s, view)
        self._answer(step_s, view)
        self.pass_time(step_s, view)
        self.drone = tone_of(view, self.glow, self.fray)
        return cues + self._creak(step_s, view)

    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                return [SoundCue("latch", gain=0.6)]
            case EffortStarted():
                self.laid = self.unlaid = 0.0
            case RepMade(rep):
                self.laid = self.unlaid = 0.0
                return [self.keep(rep), SoundCue("coil", gain=0.8)]
            case RepMissed():
                self.unlaid, self.laid = self.laid, 0.0
                return [SoundCue("sigh", gain=0.55)]
        return self.ended(event)

    # --- what the muscle does: at once --------------------------------------------------------------------------
    def _pull(self, step_s: float, view: RepView) -> None:
        self.gauge = Gauge.of(view.low, view.target, view.high)
        self.haul = self.gauge.height(view.activation[0]) if view.readable else 0.0
        if view.phase == "effort":
            self.laid = min(view.held_s / view.hold_s, 1.0) if view.hold_s > 0 else 0.0

    # --- what the world answers: eased --------------------------------------------------------------------------
    def _answer(self, step_s: float, view: RepView) -> None:
        working = view.phase == "effort" and view.in_band
        self.mark_low = approach(self.mark_low, self.gauge.low_height, step_s, ANSWER_S)
        self.mark_high = approach(self.mark_high, self.gauge.high_height, step_s, ANSWER_S)
        self.glow = approach(self.glow, float(working), step_s, ANSWER_S)
        self.fray = approach(self.fray, float(view.over and view.readable), step_s, ANSWER_S)
        self.unlaid = approach(self.unlaid, 0.0, step_s, 2 * ANSWER_S)
        self.turn += step_s * self.glow  # of the hooks that twist the strands, in seconds of turning

    def _creak(self, step_s: float, view: RepView) -> list[SoundCue]:
        """The rope speaks while it is laid."""
        self._creak_s += step_s * self.glow
        if view.phase != "effort" or self._creak_s < CREAK_EVERY_S:
            return []
        self._creak_s = 0.0
        return [SoundCue("creak", gain=0.55)]
