"""What a full day of an order comes to: repetitions, and minutes from the first question to the last."""

from __future__ import annotations

from musclewood.profiles.orders.exercises import AnyExercise, reps_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.unmeasured import measured_besides

# What an attempt takes beside its hold: to react, to rise, to let go and to become quiet. Measured in simulated
# sessions.
ATTEMPT_EXTRA_S = 1.5
TRIAL_EXTRA_S = 0.7  # the same for a trial of the calibration, which is left as soon as it is full
# Some attempts miss and are made again; one that misses takes about half as long, since it is let go early (our
# choice).
MISS_TAKES = 0.5
# Pain before and after, effort, which workshop, and the signal: six screens to read and answer, 6 s each (our choice).
QUESTIONS_S = 36.0


def daily_dose(prescription: Prescription) -> tuple[int, float]:
    """Reps and minutes that a full day of the order takes."""
    reps = prescription.sessions_per_day * sum(reps_of(exercise) for exercise in prescription.exercises)
    return reps, prescription.sessions_per_day * session_minutes(prescription)


def session_minutes(prescription: Prescription) -> float:
    """One session: questions, calibration, every exercise with as many misses as the order expects, all breaks."""
    exercises = prescription.exercises
    # Between two exercises as between two sets; their order, which the patient may see changed, makes no difference
    # here.
    breaks_s = (len(exercises) - 1) * sum(exercise.set_rest_s for exercise in exercises) / len(exercises)
    played_s = sum(_exercise_s(exercise) for exercise in exercises)
    return (QUESTIONS_S + _calibration_s(prescription) + played_s + breaks_s) / 60


def _calibration_s(prescription: Prescription) -> float:
    order = prescription.calibration
    muscles = {muscle for exercise in prescription.exercises for muscle in exercise.muscles}
    muscles |= {muscle.id for muscle in measured_besides(prescription)}
    trials_s = order.trials * (order.trial_s + TRIAL_EXTRA_S) + (order.trials - 1) * order.rest_between_s
    return len(muscles) * (order.rest_s + trials_s)


def _exercise_s(exercise: AnyExercise) -> float:
    missed = 1 / exercise.scaling.success_target - 1
    attempts = reps_of(exercise) * (1 + MISS_TAKES * missed)
    rests = max(0.0, attempts - exercise.sets)
    held_s = attempts * (exercise.hold_s + ATTEMPT_EXTRA_S)
    return held_s + rests * exercise.rest_s + (exercise.sets - 1) * exercise.set_rest_s


def dose_in_words(prescription: Prescription) -> str:
    """A day's dose in one sentence, as the templates and the desk say it."""
    reps, minutes = daily_dose(prescription)
    sessions = "1 session" if prescription.sessions_per_day == 1 else f"{prescription.sessions_per_day} sessions"
    days = len(prescription.days)
    return f"A day: {reps} repetitions in {sessions}, about {max(1, round(minutes))} minutes, on {days} days a week."
