"""What happens at the kiln. Pure: the same views and events give the same evening.

The flame shows effort as it is. Everything else answers: the pot fires while the rep engine grants time in the band,
smoke gathers above it, the yard dims for a rest, a window lights for every rep. Nothing here decides whether a rep
counts, and heat beyond the band adds nothing to a pot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortStarted,
    ExerciseFinished,
    JudgedRep,
    RepEvent,
    RepMade,
    RepMissed,
    RepView,
    SetFinished,
)
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.kit.motion import approach
from musclewood.games.workshops import SILENT, Drone, SoundCue
from musclewood.games.workshops.gauge import Gauge

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

ANSWER_S = 0.45  # how long the world takes to answer; within 200-600 ms
CARRY_S = 1.4  # from the kiln to the shelf
CHEER_S = 2.2
CRACKLE_EVERY_S = 0.55


@dataclass
class Carried:
    """A pot on its way to the shelf."""

    product: Product
    place: int
    age_s: float = 0.0

    @property
    def share(self) -> float:
        return min(self.age_s / CARRY_S, 1.0)


class KilnRules:
    """The evening at the kiln. Heights and shares are 0..1; see `Gauge` for the flame."""

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        self.gauge = Gauge.of_plan(planned)
        self.mark_low, self.mark_high = self.gauge.low_height, self.gauge.high_height
        self.today, self.seed = today, seed
        self.before = tuple(product for product in shelf if product.workshop == "kiln")
        self.made: list[Product] = []
        self.carried: list[Carried] = []
        self.asked = max(planned.sets * planned.reps, 1)
        self.attempt = 0
        self.flame = self.core = self.fired = 0.0
        self.glow = self.smoke = self.rest = self.cheer = self.evening = 0.0
        self.feast_s = 0.0
        self.drone: Drone = SILENT
        self._crackle_s = 0.0

    @property
    def place(self) -> int:
        """The place on the shelf of the pot now in the kiln; a missed rep leaves the same clay standing."""
        return len(self.before) + len(self.made)

    @property
    def windows_lit(self) -> float:
        """Share of the village's windows with light in them: each rep lights its own."""
        return min(len(self.made) / self.asked, 1.0)

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        self._burn(step_s, view)
        self._answer(step_s, view)
        self.drone = self._drone(view)
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
                return self._draw_pot(rep)
            case RepMissed():
                self.fired = 0.0
                return [SoundCue("sigh", gain=0.5)]
            case SetFinished(made=made) if made:
                self.feast_s = 4.0
                return [SoundCue("phrase", gain=0.9)]
            case ExerciseFinished(made=made) if made:
                return [SoundCue("phrase", degree=2, gain=0.7)]
        return []

    def _draw_pot(self, rep: JudgedRep) -> list[SoundCue]:
        """The pot is fired: it goes to the shelf, and its note is the next of the scale."""
        pot = product_of(rep, "kiln", self.today, self.place)
        self.carried.append(Carried(pot, len(self.made)))
        self.made.append(pot)
        self.cheer = 1.0
        self.fired = 0.0
        return [SoundCue("bell", degree=(len(self.made) - 1) % 6), SoundCue("clay", gain=0.8)]

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
        working, resting = view.phase == "effort", view.phase in ("rest", "set rest")
        self.glow = approach(self.glow, 1.0 if working and view.in_band else 0.0, step_s, ANSWER_S)
        self.smoke = approach(self.smoke, 1.0 if view.over and view.readable else 0.0, step_s, ANSWER_S)
        self.rest = approach(self.rest, 1.0 if resting else 0.0, step_s, 2 * ANSWER_S)
        self.evening = approach(self.evening, self.windows_lit, step_s, 2.0)
        self.cheer = max(0.0, self.cheer - step_s / CHEER_S)
        self.feast_s = max(0.0, self.feast_s - step_s)
        for pot in self.carried:
            pot.age_s += step_s

    # --- what is heard ------------------------------------------------------------------------------------------
    def _drone(self, view: RepView) -> Drone:
        """Sounds only while somebody works, so that rest is silence."""
        if view.phase not in ("ready", "effort") or not view.readable or view.target <= 0:
            return SILENT
        height = view.activation[0] / view.target
        loudness = min(max(height - 0.06, 0.0) * 1.5, 1.0)  # a resting muscle is not heard
        return Drone(loudness, min(height, 2.0), self.glow, self.smoke)

    def _crackle(self, step_s: float, view: RepView) -> list[SoundCue]:
        self._crackle_s += step_s * (0.4 + 1.6 * self.flame)
        if view.phase != "effort" or self._crackle_s < CRACKLE_EVERY_S:
            return []
        self._crackle_s = 0.0
        return [SoundCue("crackle", degree=self.attempt % 3, gain=0.25 + 0.35 * self.flame)]
