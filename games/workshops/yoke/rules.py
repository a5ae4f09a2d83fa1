"""What happens at the yoke. Pure: the same views and events give the same evening.

Each side's effort lifts its end of the yoke; the two ropes along the bridge are the band. Where both ends lie between
the ropes and level, the carrier walks, as far as the rep engine grants time. Unlike sides tilt the yoke and spill, too
much lifts it over the upper rope and spills as well; neither brings the pails an inch further.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Literal

from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortStarted,
    ExerciseFinished,
    JudgedRep,
    RepEvent,
    RepMade,
    RepMissed,
    RepView,
    RestStarted,
    SetFinished,
)
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.kit.motion import approach
from musclewood.games.workshops import SILENT, Drone, SoundCue
from musclewood.games.workshops.gauge import Gauge

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

ANSWER_S = 0.45  # how long the world takes to answer; within 200-600 ms
STRIDE_PER_S = 0.75  # of the bridge's length a second, where no effort is asked
GONE, COMING = 1.42, -0.4  # places behind the rack and behind the gatepost, out of sight
CARRIED_HEIGHT = 0.62  # of the yoke, while she walks where no effort is asked
CARRY_S, FEAST_S = 1.3, 4.0
STEPS = 8  # footfalls over the whole bridge
Errand = Literal["waiting", "crossing", "leaving", "coming", "back"]
Sides = tuple[float, float]


@dataclass
class Brought:
    """A full pail on its way from the bridge to the rack."""

    product: Product
    place: int
    age_s: float = 0.0

    @property
    def share(self) -> float:
        return min(self.age_s / CARRY_S, 1.0)


class YokeRules:
    """The evening at the bridge. Heights and shares are 0..1; `place` is 0 at the near gatepost, 1 at the far one."""

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        self.gauge = Gauge.of_plan(planned)
        self.mark_low, self.mark_high = self.gauge.low_height, self.gauge.high_height
        self.today, self.seed = today, seed
        self.before = tuple(product for product in shelf if product.workshop == "yoke")
        self.made: list[Product] = []
        self.brought: list[Brought] = []
        self.asked = max(planned.sets * planned.reps, 1)
        self.effort: Sides = (0.0, 0.0)  # heights of the yoke's ends by effort alone
        self.carried = 0.0  # how far she carries the yoke without effort being asked
        self.errand: Errand = "coming"
        self.place, self.walked = COMING, 0.0
        self.spilling: Sides = (0.0, 0.0)
        self.within: Sides = (0.0, 0.0)
        self.glow = self.murk = self.rest = self.rested = self.cheer = self.evening = self.feast_s = self.door = 0.0
        self.paces = 0.0
        self.drone: Drone = SILENT
        self._rest_s = 1.0
        self._spilt_s = 0.0

    @property
    def ends(self) -> Sides:
        """Heights of the yoke's two ends: the effort's own, unless she walks where none is asked."""
        left, right = (side + (CARRIED_HEIGHT - side) * self.carried for side in self.effort)
        return left, right

    @property
    def lit(self) -> float:
        """Share of the valley's windows with light in them: each rep lights its own."""
        return min(len(self.made) / self.asked, 1.0)

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        self._lift(view)
        cues += self._walk(step_s)
        self._answer(step_s, view)
        self.drone = self._drone(view)
        return cues + self._spill(step_s)

    # --- what the rep engine told ------------------------------------------------------------------------------
    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                return [SoundCue("pail", gain=0.5)]
            case EffortStarted():
                self.errand, self.walked = "crossing", 0.0
            case RepMade(rep):
                return self._bring(rep)
            case RepMissed():
                walking = self.errand == "crossing"
                self.errand, self.walked = ("back", 0.0) if walking else (self.errand, 0.0)
                return [SoundCue("sigh", gain=0.5)]
            case RestStarted(rest_s=rest_s):
                self._rest_s = max(rest_s, 0.1)
            case SetFinished(made=made) if made:
                self.feast_s = FEAST_S
                return [SoundCue("phrase", gain=0.8)]
            case ExerciseFinished(made=made) if made:
                return [SoundCue("phrase", degree=2, gain=0.7)]
        return []

    def _bring(self, rep: JudgedRep) -> list[SoundCue]:
        """Over the bridge with both pails full: one is kept, and its note is the next of the scale."""
        pail = product_of(rep, "yoke", self.today, len(self.before) + len(self.made))
        self.brought.append(Brought(pail, len(self.made)))
        self.made.append(pail)
        self.errand, self.walked, self.cheer = "leaving", 1.0, 1.0
        return [SoundCue("bell", degree=(len(self.made) - 1) % 6, gain=0.8), SoundCue("pail", gain=0.8)]

    # --- what the muscles do: at once ---------------------------------------------------------------------------
    def _lift(self, view: RepView) -> None:
        self.gauge = Gauge.of(view.low, view.target, view.high)
        sides = view.activation if view.readable else (0.0,)
        self.effort = self.gauge.height(sides[0]), self.gauge.height(sides[-1])
        if view.phase == "effort":
            self.walked = min(view.held_s / view.hold_s, 1.0) if view.hold_s > 0 else 0.0

    # --- what the world answers: eased --------------------------------------------------------------------------
    def _walk(self, step_s: float) -> list[SoundCue]:
        """Where she is. On the bridge she goes as far as time in the band has brought her."""
        before = self.place
        match self.errand:
            case "crossing":
                self.place = approach(self.place, self.walked, step_s, ANSWER_S)
            case "leaving":
                self.place += STRIDE_PER_S * step_s
                if self.place >= GONE:
                    self.place, self.errand, self.walked = COMING, "coming", 0.0
                    return []
            case "coming":
                self.place = min(self.place + STRIDE_PER_S * step_s, 0.0)
            case "back":
                self.place = max(self.place - STRIDE_PER_S * step_s, 0.0)
        if self.errand in ("coming", "back") and self.place == 0.0:
            self.errand = "waiting"
        was, self.paces = self.paces, self.paces + abs(self.place - before) * STEPS
        return [SoundCue("step", gain=0.3)] if int(self.paces) > int(was) else []

    def _answer(self, step_s: float, view: RepView) -> None:
        self.mark_low = approach(self.mark_low, self.gauge.low_height, step_s, ANSWER_S)
        self.mark_high = approach(self.mark_high, self.gauge.high_height, step_s, ANSWER_S)
        working, resting = view.phase == "effort", view.phase in ("rest", "set rest")
        transit = self.errand in ("leaving", "coming", "back") and not working
        self.carried = approach(self.carried, 1.0 if transit else 0.0, step_s, ANSWER_S)
        self.within = self._eased(
            self.within, [working and view.low <= side <= view.high for side in view.level], step_s
        )
        self.spilling = self._eased(self.spilling, self._spills(view), step_s)
        self.glow = approach(self.glow, 1.0 if working and view.in_band else 0.0, step_s, ANSWER_S)
        beyond = view.readable and max(view.level) > view.high
        self.murk = approach(self.murk, 1.0 if beyond else 0.0, step_s, ANSWER_S)
        self.door = approach(self.door, float(view.unseen), step_s, 2 * ANSWER_S)
        self.rest = approach(self.rest, 1.0 if resting else 0.0, step_s, 2 * ANSWER_S)
        self.rested = min(max(1 - view.left_s / self._rest_s, 0.0), 1.0) if resting else self.rested
        self.evening = approach(self.evening, self.lit, step_s, 2.0)
        self.cheer = max(0.0, self.cheer - step_s / 2.4)
        self.feast_s = max(0.0, self.feast_s - step_s)
        for pail in self.brought:
            pail.age_s += step_s

    def _spills(self, view: RepView) -> list[bool]:
        """Which pail loses water: the lower of an unlike pair, and any that is lifted over the upper rope."""
        if view.phase != "effort" or not view.readable or len(view.level) < 2:
            return [False, False]
        left, right = view.level
        apart = view.difference_limit is not None and abs(left - right) > view.difference_limit
        apart = apart and max(left, right) >= view.low
        return [left > view.high or (apart and left < right), right > view.high or (apart and right < left)]

    @staticmethod
    def _eased(now: Sides, goal: Sequence[bool], step_s: float) -> Sides:
        left, right = (approach(value, float(on), step_s, ANSWER_S) for value, on in zip(now, goal, strict=True))
        return left, right

    # --- what is heard ------------------------------------------------------------------------------------------
    def _spill(self, step_s: float) -> list[SoundCue]:
        """A splash now and then while water is lost."""
        self._spilt_s = self._spilt_s + step_s if max(self.spilling) > 0.5 else 0.0
        if self._spilt_s < 0.4:
            return []
        self._spilt_s -= 0.8
        return [SoundCue("splash", gain=0.4)]

    def _drone(self, view: RepView) -> Drone:
        """The pitch follows the weaker side, so that only both together reach the chord."""
        if view.phase not in ("ready", "effort") or not view.readable or view.target <= 0:
            return SILENT
        height = (
            max(view.activation) / view.target
            if max(view.activation) > view.high
            else min(view.activation) / view.target
        )
        loudness = min(max(max(view.activation) / view.target - 0.06, 0.0) * 1.5, 1.0)
        return Drone(loudness, min(height, 2.0), self.glow, max(self.murk, 0.6 * max(self.spilling)))
