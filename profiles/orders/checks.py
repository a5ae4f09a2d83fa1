"""Whether the parts of a prescription fit together. Pure: parts in, faults out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import get_args

from musclewood.assets.saying import say
from musclewood.profiles.errors import Fault
from musclewood.profiles.orders.exercises import AnyExercise, minutes_of, reps_of
from musclewood.profiles.orders.retests import retest_minutes
from musclewood.profiles.orders.tables import CalibrationOrder, Ceilings, Muscle, Retest, StopRules, Task

# Above a goal there must be this much room below the effort ceiling: twice what an able person's hold wavers (about 5 %
# of the effort, more in the weak), so that going for the goal is not going over. Our choice.
LEAST_ROOM_PCT_MVC = 10.0


@dataclass(frozen=True)
class Parts:
    """What could be read of a prescription; a part that could not is None, so that the rest is still checked."""

    muscles: Sequence[Muscle] | None
    exercises: Sequence[tuple[int, AnyExercise]]
    all_exercises_readable: bool
    stop: StopRules | None
    ceilings: Ceilings | None
    issued: date | None
    review: date | None
    expires: date | None
    days: Sequence[str] | None
    sessions_per_day: int | None
    hours_between_sessions: float | None
    calibration: CalibrationOrder | None = None
    retest: Retest | None = None


def cross_faults(parts: Parts) -> list[Fault]:
    """Every way in which the readable parts disagree with each other."""
    faults = [*_date_faults(parts), *_schedule_faults(parts), *_stop_faults(parts.stop), *_muscle_faults(parts.muscles)]
    faults += _calibration_faults(parts.calibration)
    faults += _retest_faults(parts)
    seen: set[str] = set()
    for index, exercise in parts.exercises:
        place = f"exercises[{index}]"
        if exercise.id in seen:
            faults.append(Fault(f"{place}.id", say("wrong.used-twice", id=exercise.id), say("mend.own-exercise-id")))
        seen.add(exercise.id)
        faults += _effort_faults(exercise, f"{place}.effort")
        faults += _scaling_faults(exercise, f"{place}.scaling")
        faults += _kind_faults(exercise, place)
        faults += _reference_faults(exercise, parts.muscles, f"{place}.muscles")
    faults += _dose_faults(parts)
    return faults


def _date_faults(parts: Parts) -> Iterator[Fault]:
    if parts.issued and parts.review and parts.review <= parts.issued:
        yield Fault(
            "review",
            say("wrong.review-not-after-issued", review=parts.review, issued=parts.issued),
            say("mend.later-review"),
        )
    if parts.issued and parts.expires and parts.expires <= parts.issued:
        yield Fault(
            "expires",
            say("wrong.expires-not-after-issued", expires=parts.expires, issued=parts.issued),
            say("mend.later-date"),
        )


def _schedule_faults(parts: Parts) -> Iterator[Fault]:
    if parts.days and len(set(parts.days)) < len(parts.days):
        yield Fault("days", say("wrong.day-listed-twice"), say("mend.days-once"))
    sessions, hours = parts.sessions_per_day, parts.hours_between_sessions
    if sessions and hours and (sessions - 1) * hours > 16:
        problem = say("wrong.sessions-day-apart-need", sessions=sessions, hours=hours)
        yield Fault("hours_between_sessions", problem, say("mend.range", low="up", high=f"{16 / (sessions - 1):g}"))


def _stop_faults(stop: StopRules | None) -> Iterator[Fault]:
    if stop and stop.pain_lighten > stop.pain_stop:
        problem = say("wrong.above-pain-stop", pain_lighten=stop.pain_lighten, pain_stop=stop.pain_stop)
        yield Fault("stop.pain_lighten", problem, say("mend.range", low="0", high=f"{stop.pain_stop}"))
    if stop and stop.pain_stop == 0:
        yield Fault("stop.pain_stop", say("wrong.would-stop-every-session"), say("mend.range", low="1", high="10"))


def _calibration_faults(calibration: CalibrationOrder | None) -> Iterator[Fault]:
    if calibration and calibration.reference == "task" and calibration.task is None:
        remedy = say("mend.choose-one", known=", ".join(get_args(Task)))
        yield Fault("calibration.task", say("wrong.reference-task-but-none"), remedy)


def _retest_faults(parts: Parts) -> Iterator[Fault]:
    """A test is maximal, of an involved muscle, and within the order's days; the whole day stays within its minutes."""
    retest = parts.retest
    if retest is None:
        return
    if parts.calibration and parts.calibration.reference != "maximum":
        yield Fault("retest.test", say("wrong.retest-not-maximal"), say("mend.maximum-or-no-retest"))
    if parts.muscles is not None and all(muscle.role != "involved" for muscle in parts.muscles):
        yield Fault("retest.test", say("wrong.retest-no-muscle"), say("mend.involved-muscle"))
    if parts.issued and retest.first < parts.issued:
        problem = say("wrong.retest-before-issued", first=retest.first, issued=parts.issued)
        yield Fault("retest.first", problem, say("mend.later-date"))
    if parts.expires and retest.first > parts.expires:
        problem = say("wrong.retest-after-end", first=retest.first, expires=parts.expires)
        yield Fault("retest.first", problem, say("mend.earlier-date"))
    if parts.ceilings and parts.sessions_per_day and parts.all_exercises_readable:
        minutes = parts.sessions_per_day * sum(minutes_of(exercise) for _, exercise in parts.exercises)
        whole = minutes + retest_minutes(retest, parts.calibration or CalibrationOrder())
        if minutes <= parts.ceilings.minutes_per_day < whole:
            problem = say("wrong.retest-above-minutes", whole=round(whole), allowed=parts.ceilings.minutes_per_day)
            yield Fault("ceilings.minutes_per_day", problem, say("mend.raise-or-no-retest"))


def _muscle_faults(muscles: Sequence[Muscle] | None) -> Iterator[Fault]:
    ids: set[str] = set()
    channels: dict[int, str] = {}
    for index, muscle in enumerate(muscles or ()):
        if muscle.id in ids:
            yield Fault(f"muscles[{index}].id", say("wrong.used-twice", id=muscle.id), say("mend.own-muscle-id"))
        ids.add(muscle.id)
        if muscle.channel in channels:
            problem = say("wrong.already-channel", channel=muscle.channel, channels=channels[muscle.channel])
            yield Fault(f"muscles[{index}].channel", problem, say("mend.own-channel"))
        channels.setdefault(muscle.channel, muscle.id)


def _effort_faults(exercise: AnyExercise, place: str) -> Iterator[Fault]:
    effort = exercise.effort
    low, high, target = effort.min_pct_mvc, effort.max_pct_mvc, effort.target_pct_mvc
    if low > high:
        yield Fault(
            f"{place}.min_pct_mvc",
            say("wrong.above-max-pct-mvc", low=low, high=high),
            say("mend.range", low="1", high=f"{high:g}"),
        )
    elif not low <= target <= high:
        yield Fault(
            f"{place}.target_pct_mvc",
            say("wrong.got-number", target=target),
            say("mend.range", low=f"{low:g}", high=f"{high:g}"),
        )
    if high > effort.ceiling_pct_mvc:
        problem = say("wrong.above-ceiling-pct-mvc", high=high, ceiling_pct_mvc=effort.ceiling_pct_mvc)
        yield Fault(f"{place}.max_pct_mvc", problem, say("mend.range", low="up", high=f"{effort.ceiling_pct_mvc:g}"))
    if effort.at_least and not exercise.traits.open_above:
        yield Fault(f"{place}.asks", say("wrong.exercise-no-open-end", kind=exercise.kind), say("mend.allowed-within"))
    if exercise.traits.still:
        return
    if effort.at_least:
        yield from _goal_faults(exercise, place)
        return
    room = min(effort.ceiling_pct_mvc - high, low - exercise.quiet_pct_mvc)
    if effort.tolerance_pct_mvc > room:
        problem = say(
            "wrong.band-does-not-fit",
            tolerance_pct_mvc=effort.tolerance_pct_mvc,
            quiet_pct_mvc=exercise.quiet_pct_mvc,
            ceiling_pct_mvc=effort.ceiling_pct_mvc,
        )
        remedy = say("mend.range", low="up", high=f"{room:g}") if room >= 1 else say("mend.band-room")
        yield Fault(f"{place}.tolerance_pct_mvc", problem, remedy)


def _goal_faults(exercise: AnyExercise, place: str) -> Iterator[Fault]:
    """A goal above rest, and enough room between the highest goal and the ceiling to work in."""
    effort = exercise.effort
    if effort.min_pct_mvc <= exercise.quiet_pct_mvc:
        problem = say(
            "wrong.goal-not-above-quiet", min_pct_mvc=effort.min_pct_mvc, quiet_pct_mvc=exercise.quiet_pct_mvc
        )
        yield Fault(f"{place}.min_pct_mvc", problem, say("mend.above", low=f"{exercise.quiet_pct_mvc:g}"))
    if effort.max_pct_mvc <= effort.ceiling_pct_mvc < effort.max_pct_mvc + LEAST_ROOM_PCT_MVC:
        problem = say("wrong.only-mvc-left-below", value=effort.ceiling_pct_mvc - effort.max_pct_mvc)
        yield Fault(
            f"{place}.max_pct_mvc",
            problem,
            say("mend.range", low="up", high=f"{effort.ceiling_pct_mvc - LEAST_ROOM_PCT_MVC:g}"),
        )


def _scaling_faults(exercise: AnyExercise, place: str) -> Iterator[Fault]:
    scaling, tolerance = exercise.scaling, exercise.effort.tolerance_pct_mvc
    if scaling.tolerance_min_pct_mvc is not None and scaling.tolerance_min_pct_mvc > tolerance:
        problem = say(
            "wrong.above-ordered-tolerance", tolerance_min_pct_mvc=scaling.tolerance_min_pct_mvc, tolerance=tolerance
        )
        yield Fault(f"{place}.tolerance_min_pct_mvc", problem, say("mend.range", low="1", high=f"{tolerance:g}"))
    widest = scaling.tolerance_max_pct_mvc
    if widest is not None and widest < tolerance:
        problem = say("wrong.below-ordered-tolerance", widest=widest, tolerance=tolerance)
        yield Fault(f"{place}.tolerance_max_pct_mvc", problem, say("mend.range", low=f"{tolerance:g}", high="40"))
    elif widest is not None and not exercise.traits.still and not exercise.effort.at_least:
        effort = exercise.effort
        room = min(effort.min_pct_mvc - exercise.quiet_pct_mvc, effort.ceiling_pct_mvc - effort.target_pct_mvc)
        if tolerance <= room < widest:
            problem = say("wrong.band-would-reach-into", widest=widest)
            yield Fault(
                f"{place}.tolerance_max_pct_mvc", problem, say("mend.range", low=f"{tolerance:g}", high=f"{room:g}")
            )
    if scaling.rest_max_s is not None and scaling.rest_max_s < exercise.rest_s:
        problem = say("wrong.below-rest", rest_max_s=scaling.rest_max_s, rest_s=exercise.rest_s)
        yield Fault(f"{place}.rest_max_s", problem, say("mend.range", low=f"{exercise.rest_s:g}", high="600"))


def _kind_faults(exercise: AnyExercise, place: str) -> Iterator[Fault]:
    if len(set(exercise.workshops)) < len(exercise.workshops):
        yield Fault(f"{place}.workshops", say("wrong.workshop-listed-twice"), say("mend.list-each-once"))


def _reference_faults(exercise: AnyExercise, muscles: Sequence[Muscle] | None, place: str) -> Iterator[Fault]:
    wanted = exercise.traits.muscles
    if len(exercise.muscles) != wanted:
        problem = say("wrong.got-exercise", count=len(exercise.muscles), kind=exercise.kind)
        yield Fault(place, problem, say("mend.list-exactly", wanted=wanted))
    if len(set(exercise.muscles)) < len(exercise.muscles):
        yield Fault(place, say("wrong.same-muscle-listed-twice"), say("mend.two-different-muscles"))
    if muscles is None:
        return
    known = sorted({muscle.id for muscle in muscles})
    for index, name in enumerate(exercise.muscles):
        if name not in known:
            yield Fault(
                f"{place}[{index}]",
                say("wrong.no-muscle-id", name=name),
                say("mend.known-muscles", known=", ".join(known)),
            )


def _dose_faults(parts: Parts) -> Iterator[Fault]:
    ceilings, days, sessions = parts.ceilings, parts.days, parts.sessions_per_day
    if not (ceilings and days and sessions and parts.all_exercises_readable):
        return
    exercises = [exercise for _, exercise in parts.exercises]
    reps_a_day = sessions * sum(reps_of(exercise) for exercise in exercises)
    minutes_a_day = sessions * sum(minutes_of(exercise) for exercise in exercises)
    sessions_a_week = sessions * len(set(days))
    ordered_and_allowed = (
        ("reps_per_day", reps_a_day, ceilings.reps_per_day),
        ("reps_per_week", reps_a_day * len(set(days)), ceilings.reps_per_week),
        ("minutes_per_day", minutes_a_day, ceilings.minutes_per_day),
        ("sessions_per_week", sessions_a_week, ceilings.sessions_per_week),
    )
    for key, ordered, allowed in ordered_and_allowed:
        if ordered > allowed:
            problem = say("wrong.ordered-above-ceiling", ordered=round(ordered, 1), allowed=allowed)
            yield Fault(f"ceilings.{key}", problem, say("mend.less-or-raise"))
