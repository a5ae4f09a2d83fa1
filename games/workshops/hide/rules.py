"""What happens at the hide. Pure: the same views and events give the same evening.

The harebell shows effort as it is: upright between its two reeds while the muscle is quiet. A shy animal comes nearer
while the rep engine grants quiet time, and stands still or goes back when it is disturbed. Nothing here decides whether
a repetition counts: a page of the field book is kept on `RepMade` alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortStarted,
    JudgedRep,
    RepEvent,
    RepMade,
    RepMissed,
    RepView,
)
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.motion import approach
from musclewood.games.workshops import SILENT, Drone, SoundCue
from musclewood.games.workshops.craft import ANSWER_S, FEAST_S, Craft
from musclewood.games.workshops.hide.visitors import Visitor, met_before, visitor_of

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

WALK_S, LEAVE_S = 1.2, 3.0  # an animal never jumps to its place
STAY_S = 2.0  # how long it stands to be looked at when its sketch is done
SCRATCH_EVERY_S, RUSTLE_EVERY_S = 1.3, 1.2
FULL_BEND = 3.0  # effort as a multiple of the quiet limit at which the stalk lies lowest


class HideRules(Craft):
    """The evening at the hide. `bend` is effort as a multiple of the quiet limit: 1 is the second reed."""

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        super().__init__("hide", planned, shelf, today)
        self.seed = seed
        self.visitor: Visitor = visitor_of(self.place)
        self.attempt = 0
        self.bend = self.level = 0.0
        self.sketched = 0.0  # share of the sketch; falls back when the quiet time begins again
        self.trace: list[tuple[float, float]] = []  # (share of the sketch, bend) as it was drawn
        self.nearness = 0.0  # 0 hidden in the thicket, 1 before the hide
        self.alert = self.calm = self.stirred = self.glow = self.stay_s = 0.0
        self._scratch_s = self._rustle_s = 0.0

    @property
    def new_here(self) -> bool:
        """Whether this animal is met for the first time."""
        return self.visitor.name not in met_before(self.place)

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        self._stir(view)
        self._draw(view)
        self._answer(step_s, view)
        self._walk(step_s, view)
        self.pass_time(step_s, view)
        self.drone = self._drone(view)
        return cues + self._small_sounds(step_s, view)

    # --- what the rep engine told ------------------------------------------------------------------------------
    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                self._turn_page()
                return [SoundCue("page", gain=0.9)]
            case EffortStarted():
                self.attempt += 1
            case RepMade(rep):
                return self._keep_page(rep)
            case RepMissed():
                return [SoundCue("sigh", gain=0.55)]
        return self.ended(event)

    def _turn_page(self) -> None:
        self.sketched, self.trace, self.stay_s = 0.0, [], 0.0
        self.visitor = visitor_of(self.place)

    def _keep_page(self, rep: JudgedRep) -> list[SoundCue]:
        """The sketch is finished: it is torn out and pegged to the line."""
        first_meeting = [SoundCue("phrase", degree=1, gain=0.9)] if self.new_here else []
        self.feast_s = FEAST_S if first_meeting else self.feast_s
        self.stay_s, self.sketched = STAY_S, 1.0
        return [SoundCue("page", gain=1.0), self.keep(rep), *first_meeting]

    # --- what the muscle does: at once --------------------------------------------------------------------------
    def _stir(self, view: RepView) -> None:
        if not view.readable or view.quiet_below <= 0:
            self.bend = self.level = 0.0
            return
        self.bend = min(max(view.activation[0] / view.quiet_below, 0.0), FULL_BEND)
        self.level = min(max(view.level[0] / view.quiet_below, 0.0), FULL_BEND)

    def _draw(self, view: RepView) -> None:
        """Lines are added just as the engine grants quiet time."""
        if view.phase != "effort" or view.hold_s <= 0:
            return
        share = min(view.held_s / view.hold_s, 1.0)
        if share < self.sketched:
            self.trace = []
        elif share > self.sketched or not self.trace:
            self.trace.append((share, self.bend))
        self.sketched = share

    # --- what the world answers: eased --------------------------------------------------------------------------
    def _answer(self, step_s: float, view: RepView) -> None:
        watching = view.phase == "effort" and view.readable
        quiet = view.readable and self.level <= 1.0
        self.calm = approach(self.calm, max(0.0, 1.0 - self.level) if view.readable else 0.0, step_s, ANSWER_S)
        self.stirred = approach(self.stirred, float(watching and not quiet), step_s, ANSWER_S)
        self.alert = approach(self.alert, float((watching and not quiet) or self.stay_s > 0), step_s, ANSWER_S)
        self.glow = approach(self.glow, float(watching and quiet), step_s, ANSWER_S)
        self.stay_s = max(0.0, self.stay_s - step_s)

    def _walk(self, step_s: float, view: RepView) -> None:
        """Nearer while it is quiet, and the nearer the quieter; it stands while something stirs."""
        if view.phase == "effort":
            goal = self.sketched * (0.74 + 0.26 * self.calm)
            if self.stirred < 0.5 or goal < self.nearness:
                self.nearness = approach(self.nearness, goal, step_s, WALK_S)
        elif self.stay_s <= 0:
            self.nearness = approach(self.nearness, 0.0, step_s, LEAVE_S)

    # --- what is heard ------------------------------------------------------------------------------------------
    def _drone(self, view: RepView) -> Drone:
        """Near silence: the tone sounds only when the muscle stirs, and rises with it."""
        if view.phase not in ("ready", "effort") or not view.readable:
            return SILENT
        loudness = min(max(self.bend - 0.6, 0.0) * 0.9, 0.8)
        return Drone(loudness, min(self.bend, 2.0), 0.0, self.stirred)

    def _small_sounds(self, step_s: float, view: RepView) -> list[SoundCue]:
        """The pencil while it is quiet; leaves when it is not."""
        self._rustle_s += step_s
        if view.phase != "effort" or not view.readable:
            return []
        if self.level > 1.0:
            if self._rustle_s < RUSTLE_EVERY_S:
                return []
            self._rustle_s = 0.0
            return [SoundCue("rustle", gain=0.8)]
        self._scratch_s += step_s
        if self._scratch_s < SCRATCH_EVERY_S:
            return []
        self._scratch_s = 0.0
        return [SoundCue("pencil", gain=0.9)]
