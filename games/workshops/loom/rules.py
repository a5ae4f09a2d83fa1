"""What happens at the loom. Pure: the same views and events give the same evening.

The cloth grows row by row from below. The pattern is dyed into the warp as a figure, so that all of it is seen before it
is woven; two shuttles stand as far from the middle as the effort is. Row by row the cloth takes the effort as it was.
Nothing here decides whether a repetition counts: a band leaves the loom on `RepMade` alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from musclewood.games.engine.judging import PROFILE_POINTS, SMOOTHING_S
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
from musclewood.games.workshops.guide import Guide
from musclewood.games.workshops.loom.designs import REACH, Design, design_of

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

ANSWER_S = 0.4  # how long the world takes to answer; within 200-600 ms
CARRY_S = 1.5  # from the loom to the rail
WIND_S = 1.1  # until the next pattern has been wound on
CHEER_S, FEAST_S = 2.2, 4.0
LEAD_S = 2.0  # the engine begins by itself so long after the cue
LEAD_SHARE = 0.3  # of a short pattern no more than this share of its length is waited before it begins


@dataclass
class Carried:
    """A band on its way to the rail."""

    product: Product
    place: int
    age_s: float = 0.0

    @property
    def share(self) -> float:
        return min(self.age_s / CARRY_S, 1.0)


class LoomRules:
    """The evening at the loom. Heights are shares of the cloth's width, 0 at the fold, 1 at the outer edge."""

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        self.today, self.seed = today, seed
        self.before = tuple(product for product in shelf if product.workshop == "loom")
        self.made: list[Product] = []
        self.carried: list[Carried] = []
        self.asked = max(planned.sets * planned.reps, 1)
        self.pattern = np.asarray(planned.pattern or (1.0, 1.0), dtype=np.float64)
        self.hold_s = planned.hold_s
        self.half = self.height_of(planned.tolerance_pct_mvc / 100, planned.target_pct_mvc / 100)
        self._lead = min(1.0, LEAD_SHARE * planned.hold_s / LEAD_S)
        self.at_s = -LEAD_S * self._lead  # the moment of the pattern that is woven now
        self.shuttle = self.thread = 0.0
        self.gate = self.pattern_height(0.0)  # where the middle between the two marks stands
        self.woven: list[float] = []  # one height a finished cell
        self.unpicked = 0.0  # 1 just after a miss, falling: the cloth is taken back
        self.glow = self.slack = self.strain = self.rest = self.cheer = self.evening = self.door = 0.0
        self.feast_s = 0.0
        self.wound = 0.0  # cloth on the beam, eased
        self.within = False
        self.drone: Drone = SILENT
        self.attempt = 0
        self._cell: list[float] = []
        self._turns = Guide(self.pattern, planned.hold_s)

    @staticmethod
    def height_of(effort: float, target: float) -> float:
        """Height of an effort; straight, so that twice the effort stands twice as high. 1 at REACH times the target."""
        return min(max(effort / max(REACH * target, 1e-6), 0.0), 1.0)

    def pattern_height(self, moment_s: float) -> float:
        """Height that the pattern asks at a moment; before and after it, that of its ends."""
        times = np.linspace(0.0, self.hold_s, self.pattern.size)
        return float(np.interp(moment_s, times, self.pattern)) / REACH

    @property
    def place(self) -> int:
        """Number of the band now on the loom, counted over all evenings. A missed one keeps its number."""
        return len(self.before) + len(self.made)

    @property
    def design(self) -> Design:
        return design_of(self.place)

    @property
    def windows_lit(self) -> float:
        """Share of the village's windows with light in them: each rep lights its own."""
        return min(len(self.made) / self.asked, 1.0)

    @property
    def finished(self) -> bool:
        return len(self.made) >= self.asked

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        cues = [cue for event in events for cue in self._hear(event)]
        self._throw(view)
        self._wind(step_s, view)
        self._weave(view)
        self._answer(step_s, view)
        self.drone = self._drone(view)
        return cues + self._guide(view)

    # --- what the rep engine told ------------------------------------------------------------------------------
    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                self._clear()
                self._turns.restart()
                return [SoundCue("slide", gain=0.7)]
            case EffortStarted():
                self.attempt += 1
                self._clear()
            case RepMade(rep):
                return self._take_off(rep)
            case RepMissed():
                self.unpicked = 1.0
                return [SoundCue("sigh", gain=0.5)]
            case SetFinished(made=made) if made:
                self.feast_s = FEAST_S
                return [SoundCue("phrase", gain=0.9)]
            case ExerciseFinished(made=made) if made:
                return [SoundCue("phrase", degree=2, gain=0.7)]
        return []

    def _clear(self) -> None:
        self.woven, self._cell = [], []
        self.unpicked = 0.0

    def _take_off(self, rep: JudgedRep) -> list[SoundCue]:
        """The band is done: it is cut off, opened and hung up."""
        band = product_of(rep, "loom", self.today, self.place)
        self.carried.append(Carried(band, len(self.made)))
        self.made.append(band)
        self.cheer = 1.0
        self.woven, self._cell = [], []
        return [SoundCue("beat"), SoundCue("bell", degree=(len(self.made) - 1) % 6)]

    # --- what the muscle does: at once --------------------------------------------------------------------------
    def _throw(self, view: RepView) -> None:
        if view.readable:
            self.shuttle = self.height_of(view.activation[0], view.target)
            self.thread = self.height_of(view.level[0], view.target)
        else:
            self.shuttle = self.thread = 0.0
        self.half = max(view.high - view.target, 0.0) / max(REACH * view.target, 1e-6)
        # The judge looks at a short average, and takes its delay off the pattern: so does the picture.
        # Compared as efforts: a height ends at the cloth's edge, an effort does not.
        wanted = REACH * self.pattern_height(view.effort_s - SMOOTHING_S / 2) * view.target
        near = abs(view.level[0] - wanted) <= max(view.high - view.target, 0.0)
        self.within = view.phase == "effort" and view.readable and near

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
                self.at_s = approach(self.at_s, -LEAD_S * self._lead, step_s, WIND_S)
        wanted = self.pattern_height(self.at_s - (SMOOTHING_S / 2 if view.phase == "effort" else 0.0))
        moving = view.phase in ("effort", "ready")
        self.gate = wanted if moving else approach(self.gate, wanted, step_s, WIND_S)

    def _answer(self, step_s: float, view: RepView) -> None:
        working, resting = view.phase == "effort" and view.readable, view.phase in ("rest", "set rest")
        above = working and not self.within and self.thread >= self.gate
        below = working and not self.within and self.thread < self.gate
        self.glow = approach(self.glow, float(self.within), step_s, ANSWER_S)
        self.strain = approach(self.strain, float(above), step_s, ANSWER_S)
        self.slack = approach(self.slack, float(below), step_s, ANSWER_S)
        self.door = approach(self.door, float(view.unseen), step_s, 2 * ANSWER_S)
        self.rest = approach(self.rest, float(resting), step_s, 2 * ANSWER_S)
        self.evening = approach(self.evening, self.windows_lit, step_s, 2.0)
        self.wound = approach(self.wound, self.windows_lit, step_s, WIND_S)
        self.cheer = max(0.0, self.cheer - step_s / CHEER_S)
        self.feast_s = max(0.0, self.feast_s - step_s)
        if self.unpicked > 0.0:
            self.unpicked = approach(self.unpicked, 0.0, step_s, 2 * ANSWER_S)
            if self.unpicked < 0.02:
                self._clear()
        for band in self.carried:
            band.age_s += step_s

    # --- what is heard ------------------------------------------------------------------------------------------
    def _drone(self, view: RepView) -> Drone:
        """Sounds only while somebody works, so that rest is silence."""
        if view.phase not in ("ready", "effort") or not view.readable or view.target <= 0:
            return SILENT
        height = view.activation[0] / view.target
        loudness = min(max(height - 0.06, 0.0) * 1.5, 1.0)  # a resting muscle is not heard
        return Drone(loudness, min(height, 2.0), self.glow, self.strain)

    def _guide(self, view: RepView) -> list[SoundCue]:
        """A thread is plucked shortly before each turn of the pattern, at the pitch that the drone should come to."""
        due = self._turns.due(view)
        return [] if due is None else [SoundCue(f"thread_{due}", gain=0.8)]
