"""Evenings at a workshop, played by simulated patients through the real rep engine."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date

import numpy as np
import pytest
from musclewood.games.engine.rep_events import Reading, RepEvent, RepMade, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.shelf import Product
from musclewood.games.workshops import SoundCue
from musclewood.games.workshops.kiln.rules import KilnRules
from musclewood.profiles.plan.dose import PlannedExercise

FRAME_S, TICKS = 1 / 60, 4
Will = Callable[[RepView, float], float]  # what the patient tries, from what is shown and the time in seconds
WORKING = ("ready", "effort")


def steady(view: RepView, time_s: float) -> float:
    return view.target if view.phase in WORKING else 0.0


def shaky(view: RepView, time_s: float) -> float:
    return view.target * (1 + 0.3 * np.sin(9 * time_s) + 0.15 * np.sin(23 * time_s)) if view.phase in WORKING else 0.0


def over_keen(view: RepView, time_s: float) -> float:
    return view.high * 1.5 if view.phase in WORKING else 0.0


def weak(view: RepView, time_s: float) -> float:
    return view.low * 0.7 if view.phase in WORKING else 0.0


def asleep(view: RepView, time_s: float) -> float:
    return 0.0


@dataclass
class Evening:
    """One exercise at the kiln, frame by frame."""

    exercise: PlannedExercise
    will: Will
    shelf: list[Product] = field(default_factory=list)
    seed: int = 5
    noise: float = 0.03
    events: list[RepEvent] = field(default_factory=list)
    cues: list[SoundCue] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.rules = KilnRules(self.exercise, self.seed, self.shelf, date(2026, 11, 25))
        self.engine = RepEngine(self.exercise, FRAME_S / TICKS)

    def frames(self, limit_s: float = 300.0) -> Iterator[tuple[RepView, float]]:
        """After every frame: the view and the time. Ends when the exercise does."""
        chance, level = np.random.default_rng(self.seed), 0.0
        for frame in range(round(limit_s / FRAME_S)):
            told: list[RepEvent] = []
            for _ in range(TICKS):
                aim = self.will(self.engine.view, frame * FRAME_S)
                level += (aim - level) * FRAME_S / TICKS / 0.12
                heard = max(0.0, level * (1 + self.noise * chance.standard_normal()))
                told += self.engine.step(Reading((heard,), (heard > 0.08,)))
            self.events += told
            self.cues += self.rules.step(FRAME_S, self.engine.view, told)
            yield self.engine.view, frame * FRAME_S
            if self.engine.done:
                return

    def play(self) -> Evening:
        for _ in self.frames():
            pass
        return self

    @property
    def counted(self) -> list[RepMade]:
        return [event for event in self.events if isinstance(event, RepMade)]


@pytest.fixture
def evening(exercise: Callable[..., PlannedExercise]) -> Callable[..., Evening]:
    """Build an evening for a will by name; further arguments change the exercise."""
    wills: dict[str, Will] = {"steady": steady, "shaky": shaky, "over-keen": over_keen, "weak": weak, "asleep": asleep}

    def build(who: str, *, shelf: list[Product] | None = None, seed: int = 5, **changes: object) -> Evening:
        return Evening(exercise(**changes), wills[who], shelf or [], seed)

    return build
