"""What the rules of a workshop share: what is made and carried away, what is lit, how a rest and a finished set are
felt.

A workshop's rules build on `Craft` and say only what effort moves in it. Pure, like all rules.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from musclewood.games.engine.rep_events import ExerciseFinished, JudgedRep, RepEvent, RepView, SetFinished
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.kit.motion import approach
from musclewood.games.workshops import SILENT, Drone, SoundCue

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

ANSWER_S = 0.45  # how long the world takes to answer; within 200-600 ms
CARRY_S = 1.4  # from where it is made to where it is kept
CHEER_S, FEAST_S = 2.2, 4.0
UNHEARD = 0.06  # of the target: a resting muscle makes no tone


@dataclass
class Carried:
    """A thing on its way to its place. It sets out `due_s` after it was made."""

    product: Product
    place: int
    due_s: float = 0.0
    age_s: float = 0.0

    @property
    def share(self) -> float:
        """0 where it was made, 1 where it is kept."""
        return min(max((self.age_s - self.due_s) / CARRY_S, 0.0), 1.0)


class Craft:
    """One evening's work in a workshop. Shares and eased states are 0..1; seconds count down."""

    def __init__(self, workshop: str, planned: PlannedExercise, shelf: Sequence[Product], today: date) -> None:
        self.workshop, self.today = workshop, today
        self.before = tuple(product for product in shelf if product.workshop == workshop)
        self.made: list[Product] = []
        self.carried: list[Carried] = []
        self.asked = max(planned.sets * planned.reps, 1)
        self.rest = self.cheer = self.evening = self.feast_s = self.door = 0.0
        self.drone: Drone = SILENT

    @property
    def place(self) -> int:
        """Number of the thing now at work, counted over all evenings. A missed one keeps its number."""
        return len(self.before) + len(self.made)

    @property
    def windows_lit(self) -> float:
        """Share of the village's windows with light in them: each rep lights its own."""
        return min(len(self.made) / self.asked, 1.0)

    @property
    def finished(self) -> bool:
        """Whether all that was asked is made."""
        return len(self.made) >= self.asked

    def keep(self, rep: JudgedRep, due_s: float = 0.0) -> SoundCue:
        """A rep was counted: what it made sets out, `due_s` from now. Its note is the next of the scale."""
        product = product_of(rep, self.workshop, self.today, self.place)
        self.carried.append(Carried(product, len(self.made), due_s))
        self.made.append(product)
        self.cheer = 1.0
        return SoundCue("bell", degree=(len(self.made) - 1) % 6)

    def ended(self, event: RepEvent) -> list[SoundCue]:
        """What is heard when a set or the exercise ends with something made."""
        match event:
            case SetFinished(made=made) if made:
                self.feast_s = FEAST_S
                return [SoundCue("phrase", gain=0.9)]
            case ExerciseFinished(made=made) if made:
                return [SoundCue("phrase", degree=2, gain=0.7)]
        return []

    def pass_time(self, step_s: float, view: RepView) -> None:
        """What answers in its own time, in every workshop alike."""
        resting = view.phase in ("rest", "set rest")
        self.door = approach(self.door, float(view.unseen), step_s, 2 * ANSWER_S)
        self.rest = approach(self.rest, float(resting), step_s, 2 * ANSWER_S)
        self.evening = approach(self.evening, self.windows_lit, step_s, 2.0)
        self.cheer = max(0.0, self.cheer - step_s / CHEER_S)
        self.feast_s = max(0.0, self.feast_s - step_s)
        for carried in self.carried:
            carried.age_s += step_s


def tone_of(view: RepView, accord: float, breath: float) -> Drone:
    """The tone of effort: only while somebody works, so that rest is silence. See `Drone` for accord and breath."""
    if view.phase not in ("ready", "effort") or not view.readable or view.target <= 0 or view.unseen:
        return SILENT
    height = view.activation[0] / view.target
    return Drone(min(max(height - UNHEARD, 0.0) * 1.5, 1.0), min(height, 2.0), accord, breath)
