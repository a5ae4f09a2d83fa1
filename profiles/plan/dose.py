"""What today asks of the patient. Pure: the order, the past and the day in; today's exercises and the reasons out.

The rules only ever take away from the order: never a rep above a ceiling, never a rest below the ordered one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from datetime import date, datetime
from typing import Any

from musclewood.profiles.journal.history import History, zone_of
from musclewood.profiles.journal.records import ScalingRecord
from musclewood.profiles.orders.exercises import AnyExercise, reps_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import in_unit
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.plan.reasons import Change, Reason
from musclewood.profiles.plan.safety import Allowance, allowance, pain_says_lighten, restraint
from musclewood.profiles.plan.scaling import scale
from musclewood.profiles.plan.trusted_time import as_lived
from musclewood.profiles.plan.unseen import unseen_share


@dataclass(frozen=True)
class PlannedExercise:
    """One exercise as it is to be done now. Efforts in %MVC, times in seconds.

    `reps` are counted reps a set; `most_attempts` bounds made and missed reps together, so that the day's ceiling holds
    whatever is played. `channels` are those of the exercise's muscles, in its order. `asks` is 'within' (target +/-
    tolerance) or 'at least' (the target or more; the tolerance is 0). `own` holds what only this kind orders, under the
    names of the order, where no field here has the name. `start_s` and `release_s` are how late this person may start
    and let go, as far as that is more than anybody may. `results` is how often a good one is told of; `door_closed`
    what is ordered of reps without seeing the effort, `unseen_share` today's. `sides` are those of the channels, where
    they differ.
    """

    exercise_id: str
    kind: str
    title: str
    workshops: tuple[str, ...]
    channels: tuple[int, ...]
    sets: int
    reps: int
    hold_s: float
    rest_s: float
    set_rest_s: float
    target_pct_mvc: float
    tolerance_pct_mvc: float
    ceiling_pct_mvc: float
    quiet_pct_mvc: float
    opposite_ceiling_pct_mvc: float | None = None
    difference_pct_mvc: float | None = None
    rise_s: float | None = None
    pattern: tuple[float, ...] | None = None
    most_attempts: int = 0
    fatigue_decline_pct: float | None = None
    start_s: float = 0.0
    release_s: float = 0.0
    asks: str = "within"
    results: str = "by skill"
    door_closed: str = "never"
    unseen_share: float = 0.0
    sides: tuple[str, ...] = ()
    own: Mapping[str, Any] = field(default_factory=dict, hash=False)


@dataclass(frozen=True)
class ExerciseChange:
    """An exercise that differs from last time."""

    title: str
    reason: Change


@dataclass(frozen=True)
class DayPlan:
    """Today's exercises. Empty means nothing (more) is to be done, and `reasons` say why."""

    day: date
    exercises: tuple[PlannedExercise, ...]
    reasons: tuple[Reason, ...] = ()
    not_before: datetime | None = None
    scaling: tuple[ScalingRecord, ...] = field(default=())
    minutes: float | None = None  # what the day's ceiling leaves; None where nothing limits them but the ceiling

    @property
    def reps(self) -> int:
        return sum(exercise.sets * exercise.reps for exercise in self.exercises)

    @property
    def changes(self) -> tuple[ExerciseChange, ...]:
        """What scaling moved in today's exercises, for the patient to read."""
        titles = {exercise.exercise_id: exercise.title for exercise in self.exercises}
        return tuple(ExerciseChange(titles[one.exercise_id], Change(one.reason_patient)) for one in self.scaling)


def plan_today(
    prescription: Prescription, history: History, today: date | None = None, *, now: datetime | None = None
) -> DayPlan:
    """The plan for the next session on `today` (the day of `now` in the patient's zone, if only `now` is given).

    Without `now`, the hours between sessions are not looked at.
    """
    zone = zone_of(prescription.timezone)
    if today is None:
        if now is None:
            raise ValueError("say which day or which moment to plan for")
        today = now.astimezone(zone).date()
    lived = as_lived(history, now)
    refusal = _calendar_refusal(prescription, today)
    if not refusal and lived.unmoved is not None:
        refusal = _moved_clock_refusal(prescription, lived.unmoved.astimezone(zone).date())
    if refusal:
        return DayPlan(today, (), (refusal,))
    allowed = allowance(prescription, lived, today)
    if allowed.refusal:
        return DayPlan(today, (), (allowed.refusal,), allowed.not_before)
    reasons = _calendar_notes(prescription, today)
    left = allowed.left
    exercises, moves = _scaled(prescription, history)
    fitted, shortened = _fit([exercise for exercise in exercises if left[exercise.exercise_id]], left, allowed)
    if shortened:
        reasons.append(Reason.SHORTER)
    if not fitted:
        reasons.append(Reason.DONE)
    chosen = {exercise.exercise_id for exercise in fitted}
    moves = [_told(move, prescription) for move in moves if move.exercise_id in chosen]
    return DayPlan(today, tuple(fitted), tuple(reasons), scaling=tuple(moves), minutes=allowed.minutes)


def _told(move: ScalingRecord, prescription: Prescription) -> ScalingRecord:
    return replace(move, reason_therapist=in_unit(move.reason_therapist, prescription.calibration))


def _scaled(prescription: Prescription, history: History) -> tuple[list[PlannedExercise], list[ScalingRecord]]:
    """Every exercise as scaling sets it. A new revision starts as it is ordered, whatever was done under the one
    before.

    A session in which nothing was tried tells nothing, unless it was pain that kept it so.
    """
    sessions = [
        one
        for one in history.sessions
        if one.start.revision == prescription.revision and (one.attempts or pain_says_lighten(one, prescription.stop))
    ]
    exercises, moves = [], []
    for exercise in prescription.exercises:
        scaled = scale(exercise, sessions, restraint(exercise.id, sessions, prescription.stop))
        setting = scaled.setting
        exercises.append(
            replace(
                planned(prescription, exercise),
                target_pct_mvc=setting.target_pct_mvc,
                tolerance_pct_mvc=setting.tolerance_pct_mvc,
                rest_s=max(exercise.rest_s, setting.rest_s),
                unseen_share=unseen_share(exercise, history.sessions),
            )
        )
        if scaled.record:
            moves.append(scaled.record)
    return exercises, moves


def planned(prescription: Prescription, exercise: AnyExercise) -> PlannedExercise:
    """An exercise exactly as ordered."""
    channel_of = {muscle.id: muscle.channel for muscle in prescription.muscles}
    ordered = {name: getattr(exercise, name) for name in type(exercise).model_fields}
    ordered |= {name: getattr(exercise.effort, name) for name in type(exercise.effort).model_fields}
    ordered |= {"quiet_pct_mvc": exercise.quiet_pct_mvc, "tolerance_pct_mvc": exercise.effort.band_pct_mvc}
    known = {field.name for field in fields(PlannedExercise)}
    return PlannedExercise(
        **{name: value for name, value in ordered.items() if name in known},
        exercise_id=exercise.id,
        channels=tuple(channel_of[muscle] for muscle in exercise.muscles),
        sides=_sides(prescription, exercise),
        own={name: ordered[name] for name in exercise.own_parameters() if name not in known},
        most_attempts=reps_of(exercise),
        fatigue_decline_pct=prescription.stop.fatigue_decline_pct,
    )


def _sides(prescription: Prescription, exercise: AnyExercise) -> tuple[str, ...]:
    side_of = {muscle.id: muscle.side for muscle in prescription.muscles}
    sides = tuple(side_of[muscle] for muscle in exercise.muscles)
    return sides if len(set(sides)) > 1 else ()


def _calendar_refusal(prescription: Prescription, today: date) -> Reason | None:
    if today < prescription.issued:
        return Reason.BEGINS_LATER
    if prescription.expires and today > prescription.expires:
        return Reason.ENDED
    if DAYS[today.weekday()] not in prescription.days:
        return Reason.REST_DAY
    return None


def _moved_clock_refusal(prescription: Prescription, unmoved: date) -> Reason | None:
    """A clock that was set since the machine was started does not turn a rest day into another."""
    if unmoved >= prescription.issued and DAYS[unmoved.weekday()] not in prescription.days:
        return Reason.CLOCK_MOVED
    return None


def _calendar_notes(prescription: Prescription, today: date) -> list[Reason]:
    if today > prescription.review:
        return [Reason.REVIEW_PASSED]
    return []


def _fit(
    exercises: list[PlannedExercise], left: Mapping[str, int], allowed: Allowance
) -> tuple[list[PlannedExercise], bool]:
    """Shorten exercises to what is left of the day, in their order, and share out the attempts
    that the ceiling allows."""
    room = allowed.attempts
    wanted = [min(left[exercise.exercise_id], exercise.sets * exercise.reps) for exercise in exercises]
    fitted, shortened = [], False
    spare = max(0, room - sum(wanted))
    for exercise, reps in zip(exercises, wanted, strict=True):
        fits = min(reps, room)
        shortened = shortened or fits < reps
        if fits == 0:
            continue
        # Misses are likely, so spare room under the ceiling goes to attempts, first come, at most as many again.
        extra = min(spare, fits)
        spare -= extra
        room -= fits + extra
        fitted.append(_with_reps(exercise, fits, fits + extra))
    return fitted, shortened


def _with_reps(exercise: PlannedExercise, reps: int, most_attempts: int) -> PlannedExercise:
    """At most `reps` reps, in sets that stay as near to the ordered size as whole sets allow."""
    sets = min(exercise.sets, max(1, -(-reps // exercise.reps)))
    return replace(exercise, sets=sets, reps=min(exercise.reps, max(1, reps // sets)), most_attempts=most_attempts)
