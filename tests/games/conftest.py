"""A muscle that does exactly what a test says, and exercises for it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import pytest
from musclewood.games.rep_events import Reading, RepEvent, RepMade, RepMissed
from musclewood.games.reps import RepEngine

try:
    from musclewood.profiles.dose import PlannedExercise
except ImportError:
    from types import SimpleNamespace as PlannedExercise

STEP_S = 0.01

Script = Sequence[tuple[float, float] | tuple[float, float, float]]


def planned(**changes: Any) -> PlannedExercise:
    """Two sets of three holds of 2 s at 40 +/- 10 %MVC, unless changed."""
    values: dict[str, Any] = {
        "exercise_id": "knee-hold",
        "kind": "hold",
        "title": "Press the knee down",
        "workshops": ("kiln",),
        "channels": (0,),
        "sets": 2,
        "reps": 3,
        "hold_s": 2.0,
        "rest_s": 3.0,
        "set_rest_s": 6.0,
        "target_pct_mvc": 40.0,
        "tolerance_pct_mvc": 10.0,
        "ceiling_pct_mvc": 70.0,
        "opposite_ceiling_pct_mvc": None,
        "difference_pct_mvc": None,
        "rise_s": None,
        "pattern": None,
        "quiet_pct_mvc": 8.0,
    }
    return PlannedExercise(**{**values, **changes})


class Muscle:
    """Feeds an engine with levels; contracting above a tenth of the maximum."""

    def __init__(self, engine: RepEngine, channels: int = 1) -> None:
        self.engine, self.channels = engine, channels
        self.events: list[RepEvent] = []

    def do(self, level: float, for_s: float, second: float = 0.0, *, readable: bool = True) -> list[RepEvent]:
        """Hold a level; returns what happened meanwhile."""
        both = (level, second)[: self.channels]
        reading = Reading(both, tuple(value > 0.1 for value in both), readable)
        told: list[RepEvent] = []
        for _ in range(round(for_s / STEP_S)):
            told += self.engine.step(reading)
        self.events += told
        return told

    def until(self, phase: str, level: float = 0.0, limit_s: float = 120.0) -> None:
        for _ in range(round(limit_s / STEP_S)):
            if self.engine.view.phase == phase:
                return
            self.do(level, STEP_S)
        raise AssertionError(f"never came to {phase!r}")

    @property
    def verdicts(self) -> list[str]:
        return [event.rep.verdict for event in self.events if isinstance(event, RepMade | RepMissed)]


@pytest.fixture
def muscle() -> Callable[..., Muscle]:
    def build(**changes: Any) -> Muscle:
        exercise = planned(**changes)
        return Muscle(RepEngine(exercise, STEP_S), len(exercise.channels))

    return build


@pytest.fixture
def exercise() -> Callable[..., PlannedExercise]:
    return planned
