"""What happens at the smithy. Pure: the same views and events give the same evening.

Effort lifts the hammer, letting go drops it: brisk on, fully off. A muscle that is not at rest keeps the hammer off the
block. Nothing here decides whether a rep counts; only a counted one strikes a key, hotter the more briskly it was
lifted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING

from musclewood.games.engine.rep_events import CueGiven, EffortStarted, RepEvent, RepMade, RepMissed, RepView
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.motion import approach
from musclewood.games.workshops import SoundCue
from musclewood.games.workshops.craft import ANSWER_S, Craft, tone_of
from musclewood.games.workshops.gauge import Gauge

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

STRIKE_S = 0.6  # how long sparks fly
SEEN_S = 0.7  # a struck key lies on the block so long before it is carried away
STEAM_S = 1.2
COOL_S = 0.9  # the next bar comes out of the fire
BRISKEST = 9.0  # rise as a multiple of the target per second that is worth all there is to be had; our choice
TRAIL_S = 0.3  # how long a streak of light follows the hammer: the brisker, the longer it is


def briskness(figures: Mapping[str, float]) -> float:
    """How briskly the effort of a rep rose, 0..1, from its figures."""
    rise = figures.get("rise_pct_mvc_per_s", 0.0) / max(figures.get("target_pct_mvc", 0.0), 1.0)
    return min(max(rise / BRISKEST, 0.0), 1.0)


class SmithyRules(Craft):
    """The evening at the smithy. `struck` is how brisk the last key's rep was, `lift` is the hammer's height, `trail`
    where it was a moment ago, both 0..1."""

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        super().__init__("smithy", planned, shelf, today)
        self.gauge = Gauge.of_plan(planned)
        self.mark_low, self.mark_high = self.gauge.low_height, self.gauge.high_height
        self.lift = self.trail = self.held = 0.0
        self.struck = 0.0
        self.heat = 0.0  # of the bar on the block
        self.glow = self.strain = self.strike = self.steam = 0.0

    @property
    def let_go(self) -> bool:
        """Held long enough: now the hammer wants to fall."""
        return self.held >= 1.0

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        cues += self._raise(view)
        self._answer(step_s, view)
        self.pass_time(step_s, view)
        self.drone = tone_of(view, self.glow, self.strain)
        return cues

    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                return [SoundCue("tongs", gain=0.6)]
            case EffortStarted():
                self.held = 0.0
            case RepMade(rep):
                self.held, self.strike, self.heat = 0.0, 1.0, 0.0
                bell = self.keep(rep, due_s=SEEN_S)
                self.struck = briskness(self.made[-1].figures)
                return [SoundCue("clang", gain=0.6 + 0.4 * self.struck), bell]
            case RepMissed():
                self.held, self.steam, self.heat = 0.0, 1.0, 0.2
                return [SoundCue("hiss", gain=0.55), SoundCue("sigh", gain=0.55)]
        return self.ended(event)

    # --- what the muscle does: at once --------------------------------------------------------------------------
    def _raise(self, view: RepView) -> list[SoundCue]:
        self.gauge = Gauge.of(view.low, view.target, view.high)
        self.lift = self.gauge.height(view.activation[0]) if view.readable else 0.0
        if view.phase != "effort" or not view.readable:
            return []
        before = self.held
        self.held = min(view.held_s / view.hold_s, 1.0) if view.hold_s > 0 else 0.0
        return [SoundCue("pawl", gain=0.6)] if before < 1.0 <= self.held else []

    # --- what the world answers: eased --------------------------------------------------------------------------
    def _answer(self, step_s: float, view: RepView) -> None:
        self.mark_low = approach(self.mark_low, self.gauge.low_height, step_s, ANSWER_S)
        self.mark_high = approach(self.mark_high, self.gauge.high_height, step_s, ANSWER_S)
        self.trail = approach(self.trail, self.lift, step_s, TRAIL_S)
        within = view.phase == "effort" and view.in_band
        beyond = view.readable and view.activation[0] > view.high
        self.glow = approach(self.glow, float(within), step_s, ANSWER_S)
        self.strain = approach(self.strain, float(beyond), step_s, ANSWER_S)
        struck = self.strike > 0.0 or any(0.0 <= one.age_s < one.due_s for one in self.carried)
        hot = 0.0 if struck or self.finished else 1.0
        self.heat = approach(self.heat, hot, step_s, COOL_S)
        self.strike = max(0.0, self.strike - step_s / STRIKE_S)
        self.steam = max(0.0, self.steam - step_s / STEAM_S)
