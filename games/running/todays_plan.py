"""What is to be done today, and the channels that it takes. Knows no source: Today shows it before one is opened."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

from musclewood.games.workshops.ordered import in_workshops
from musclewood.profiles.journal.history import History, zone_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.unmeasured import measured_besides
from musclewood.profiles.plan.dose import DayPlan, PlannedExercise, plan_today, planned
from musclewood.profiles.plan.reasons import Reason


def plan_for(prescription: Prescription, history: History, now: datetime, practice: bool) -> DayPlan:
    """What is to be done now.  Practice follows the order as it stands: nothing of it loads a muscle or counts."""
    if practice:
        today = now.astimezone(zone_of(prescription.timezone)).date()
        if not prescription.practice.allowed:
            return DayPlan(today, (), (Reason.NO_PRACTICE,))
        return in_workshops(DayPlan(today, tuple(_for_practice(prescription))))
    return in_workshops(plan_today(prescription, history, now=now))


def _for_practice(prescription: Prescription) -> Iterator[PlannedExercise]:
    """The order as it stands; attempts are bounded as on a day that has just begun."""
    exercises = [planned(prescription, exercise) for exercise in prescription.exercises]
    spare = max(0, prescription.ceilings.reps_per_day - sum(each.most_attempts for each in exercises))
    for exercise in exercises:
        extra = min(spare, exercise.most_attempts)
        spare -= extra
        yield replace(exercise, most_attempts=exercise.most_attempts + extra)


def channels_needed(prescription: Prescription) -> int:
    """How many channels a source must have: one more than the highest that a muscle is on."""
    return 1 + max(muscle.channel for muscle in prescription.muscles)


def channels_used(prescription: Prescription) -> int:
    """How many its exercises cannot do without: the other side is measured only where there is a channel for it."""
    besides = {muscle.channel for muscle in measured_besides(prescription)}
    return 1 + max(muscle.channel for muscle in prescription.muscles if muscle.channel not in besides)
