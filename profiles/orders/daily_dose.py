"""What a full day of an order comes to."""

from __future__ import annotations

from musclewood.profiles.orders.exercises import minutes_of, reps_of
from musclewood.profiles.orders.prescription import Prescription


def daily_dose(prescription: Prescription) -> tuple[int, float]:
    """Reps and minutes that a full day of the order takes."""
    reps = prescription.sessions_per_day * sum(reps_of(exercise) for exercise in prescription.exercises)
    minutes = prescription.sessions_per_day * sum(minutes_of(exercise) for exercise in prescription.exercises)
    return reps, minutes


def dose_in_words(prescription: Prescription) -> str:
    """A day's dose in one sentence, as the templates and the desk say it."""
    reps, minutes = daily_dose(prescription)
    sessions = "1 session" if prescription.sessions_per_day == 1 else f"{prescription.sessions_per_day} sessions"
    days = len(prescription.days)
    return f"A day: {reps} repetitions in {sessions}, about {max(1, round(minutes))} minutes, on {days} days a week."
