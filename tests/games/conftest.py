"""A muscle that does exactly what a test says, and exercises for it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from musclewood.games.engine.rep_events import Reading, RepEvent, RepMade, RepMissed
from musclewood.games.engine.reps import RepEngine
from musclewood.profiles.orders.prescription import Prescription, parse
from musclewood.profiles.plan.dose import PlannedExercise

STEP_S = 0.01

ORDER = """
format = "musclewood-prescription/1"
patient = "HB-0042"
clinic = "Hornbeam Clinic"
revision = 1
issued = 2026-01-01
review = 2030-12-31
timezone = "Europe/Prague"
days = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
sessions_per_day = {sessions_per_day}
hours_between_sessions = 0

[calibration]
rest_s = 1.0
trials = {trials}
trial_s = {trial_s}
rest_between_s = 1.0

[stop]
pain_stop = 5
pain_lighten = 3
pain_rise_stop = 3

[ceilings]
reps_per_day = {reps_per_day}
reps_per_week = 2000
minutes_per_day = {minutes_per_day}
sessions_per_week = 28

[[muscles]]
id = "biceps"
name = "Biceps"
side = "right"
role = "involved"
placement = "Middle of the upper arm"
channel = 0

[[exercises]]
id = "elbow-hold"
title = "Bend the elbow"
kind = "hold"
workshops = ["kiln"]
muscles = ["biceps"]
sets = {sets}
reps = {reps}
hold_s = {hold_s}
rest_s = {rest_s}
set_rest_s = {set_rest_s}
quiet_pct_mvc = {quiet_pct_mvc}
[exercises.effort]
target_pct_mvc = {target}
min_pct_mvc = {low}
max_pct_mvc = {high}
tolerance_pct_mvc = {tolerance}
ceiling_pct_mvc = {ceiling}
"""

USUAL: dict[str, float] = {
    "sessions_per_day": 4, "trials": 1, "trial_s": 2.0, "reps_per_day": 200, "minutes_per_day": 60, "sets": 2,
    "reps": 3,
    "hold_s": 2.0, "rest_s": 2.0, "set_rest_s": 4.0, "quiet_pct_mvc": 10.0, "target": 40.0, "low": 30.0, "high": 50.0,
    "tolerance": 10.0, "ceiling": 75.0,
}  # fmt: skip


def order_text(**changes: float) -> str:
    """A prescription of holds for one muscle, as TOML."""
    return ORDER.format(**{**USUAL, **changes})


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
def order() -> Callable[..., Prescription]:
    def build(**changes: float) -> Prescription:
        return parse(order_text(**changes))

    return build


@pytest.fixture
def written_order(tmp_path: Path) -> Callable[..., Path]:
    """The same as a file."""

    def write(**changes: float) -> Path:
        path = tmp_path / "order.toml"
        path.write_text(order_text(**changes), encoding="utf-8")
        return path

    return write


@pytest.fixture
def exercise() -> Callable[..., PlannedExercise]:
    return planned


@pytest.fixture
def bursts(tmp_path: Path) -> Path:
    """An invented recording: eight clear contractions of 1.6 s over a little noise, as CSV in µV at 500 Hz."""
    noise = np.random.default_rng(5)
    time_s = np.arange(0, 30, 1 / 500)
    working = (time_s % 3.5 > 1.5) & (time_s % 3.5 < 3.1)
    samples = noise.normal(size=time_s.size) * np.where(working, 200.0, 4.0)
    path = tmp_path / "bursts.csv"
    np.savetxt(path, np.column_stack([time_s, samples]), header="time_s,muscle", delimiter=",", comments="", fmt="%.4f")
    return path
