"""Whether the parts of a prescription fit together. Pure: parts in, faults out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import get_args

from musclewood.profiles.errors import Fault
from musclewood.profiles.orders.exercises import AnyExercise, minutes_of, reps_of
from musclewood.profiles.orders.tables import CalibrationOrder, Ceilings, Muscle, StopRules, Task

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


def cross_faults(parts: Parts) -> list[Fault]:
    """Every way in which the readable parts disagree with each other."""
    faults = [*_date_faults(parts), *_schedule_faults(parts), *_stop_faults(parts.stop), *_muscle_faults(parts.muscles)]
    faults += _calibration_faults(parts.calibration)
    seen: set[str] = set()
    for index, exercise in parts.exercises:
        place = f"exercises[{index}]"
        if exercise.id in seen:
            faults.append(Fault(f"{place}.id", f"{exercise.id!r} is used twice", "give every exercise its own id"))
        seen.add(exercise.id)
        faults += _effort_faults(exercise, f"{place}.effort")
        faults += _scaling_faults(exercise, f"{place}.scaling")
        faults += _kind_faults(exercise, place)
        faults += _reference_faults(exercise, parts.muscles, f"{place}.muscles")
    faults += _dose_faults(parts)
    return faults


def _date_faults(parts: Parts) -> Iterator[Fault]:
    if parts.issued and parts.review and parts.review <= parts.issued:
        yield Fault("review", f"{parts.review} is not after issued ({parts.issued})", "choose a later review date")
    if parts.issued and parts.expires and parts.expires <= parts.issued:
        yield Fault(
            "expires", f"{parts.expires} is not after issued ({parts.issued})", "choose a later date or leave it out"
        )


def _schedule_faults(parts: Parts) -> Iterator[Fault]:
    if parts.days and len(set(parts.days)) < len(parts.days):
        yield Fault("days", "a day is listed twice", "list each day once")
    sessions, hours = parts.sessions_per_day, parts.hours_between_sessions
    if sessions and hours and (sessions - 1) * hours > 16:
        problem = f"{sessions} sessions a day that are {hours:g} h apart need more than 16 waking hours"
        yield Fault("hours_between_sessions", problem, f"allowed up to {16 / (sessions - 1):g}")


def _stop_faults(stop: StopRules | None) -> Iterator[Fault]:
    if stop and stop.pain_lighten > stop.pain_stop:
        problem = f"{stop.pain_lighten} is above pain_stop ({stop.pain_stop})"
        yield Fault("stop.pain_lighten", problem, f"allowed 0 to {stop.pain_stop}")
    if stop and stop.pain_stop == 0:
        yield Fault("stop.pain_stop", "0 would stop every session", "allowed 1 to 10")


def _calibration_faults(calibration: CalibrationOrder | None) -> Iterator[Fault]:
    if calibration and calibration.reference == "task" and calibration.task is None:
        remedy = f"choose one of {', '.join(get_args(Task))}"
        yield Fault("calibration.task", "the reference is a task, but none is chosen", remedy)


def _muscle_faults(muscles: Sequence[Muscle] | None) -> Iterator[Fault]:
    ids: set[str] = set()
    channels: dict[int, str] = {}
    for index, muscle in enumerate(muscles or ()):
        if muscle.id in ids:
            yield Fault(f"muscles[{index}].id", f"{muscle.id!r} is used twice", "give every muscle its own id")
        ids.add(muscle.id)
        if muscle.channel in channels:
            problem = f"{muscle.channel} is already the channel of {channels[muscle.channel]!r}"
            yield Fault(f"muscles[{index}].channel", problem, "give every muscle its own channel, 0 to 15")
        channels.setdefault(muscle.channel, muscle.id)


def _effort_faults(exercise: AnyExercise, place: str) -> Iterator[Fault]:
    effort = exercise.effort
    low, high, target = effort.min_pct_mvc, effort.max_pct_mvc, effort.target_pct_mvc
    if low > high:
        yield Fault(f"{place}.min_pct_mvc", f"{low:g} is above max_pct_mvc ({high:g})", f"allowed 1 to {high:g}")
    elif not low <= target <= high:
        yield Fault(f"{place}.target_pct_mvc", f"got {target:g}", f"allowed {low:g} to {high:g} (min to max)")
    if high > effort.ceiling_pct_mvc:
        problem = f"{high:g} is above ceiling_pct_mvc ({effort.ceiling_pct_mvc:g})"
        yield Fault(f"{place}.max_pct_mvc", problem, f"allowed up to {effort.ceiling_pct_mvc:g}")
    if effort.at_least and not exercise.traits.open_above:
        yield Fault(f"{place}.asks", f"a {exercise.kind!r} exercise has no open end", "allowed 'within'")
    if exercise.traits.still:
        return
    if effort.at_least:
        yield from _goal_faults(exercise, place)
        return
    room = min(effort.ceiling_pct_mvc - high, low - exercise.quiet_pct_mvc)
    if effort.tolerance_pct_mvc > room:
        problem = (
            f"a band of +/-{effort.tolerance_pct_mvc:g} does not fit between quiet_pct_mvc "
            f"({exercise.quiet_pct_mvc:g}) and ceiling_pct_mvc ({effort.ceiling_pct_mvc:g}) at every target allowed"
        )
        remedy = f"allowed up to {room:g}" if room >= 1 else "raise min_pct_mvc, or widen the gap from max to ceiling"
        yield Fault(f"{place}.tolerance_pct_mvc", problem, remedy)


def _goal_faults(exercise: AnyExercise, place: str) -> Iterator[Fault]:
    """A goal above rest, and enough room between the highest goal and the ceiling to work in."""
    effort = exercise.effort
    if effort.min_pct_mvc <= exercise.quiet_pct_mvc:
        problem = f"a goal of {effort.min_pct_mvc:g} is not above quiet_pct_mvc ({exercise.quiet_pct_mvc:g})"
        yield Fault(f"{place}.min_pct_mvc", problem, f"allowed above {exercise.quiet_pct_mvc:g}")
    if effort.max_pct_mvc <= effort.ceiling_pct_mvc < effort.max_pct_mvc + LEAST_ROOM_PCT_MVC:
        problem = f"only {effort.ceiling_pct_mvc - effort.max_pct_mvc:g} %MVC are left below the ceiling"
        yield Fault(f"{place}.max_pct_mvc", problem, f"allowed up to {effort.ceiling_pct_mvc - LEAST_ROOM_PCT_MVC:g}")


def _scaling_faults(exercise: AnyExercise, place: str) -> Iterator[Fault]:
    scaling, tolerance = exercise.scaling, exercise.effort.tolerance_pct_mvc
    if scaling.tolerance_min_pct_mvc is not None and scaling.tolerance_min_pct_mvc > tolerance:
        problem = f"{scaling.tolerance_min_pct_mvc:g} is above the ordered tolerance ({tolerance:g})"
        yield Fault(f"{place}.tolerance_min_pct_mvc", problem, f"allowed 1 to {tolerance:g}")
    widest = scaling.tolerance_max_pct_mvc
    if widest is not None and widest < tolerance:
        problem = f"{widest:g} is below the ordered tolerance ({tolerance:g})"
        yield Fault(f"{place}.tolerance_max_pct_mvc", problem, f"allowed {tolerance:g} to 40")
    elif widest is not None and not exercise.traits.still and not exercise.effort.at_least:
        effort = exercise.effort
        room = min(effort.min_pct_mvc - exercise.quiet_pct_mvc, effort.ceiling_pct_mvc - effort.target_pct_mvc)
        if tolerance <= room < widest:
            problem = f"a band of +/-{widest:g} would reach into quiet_pct_mvc or above ceiling_pct_mvc"
            yield Fault(f"{place}.tolerance_max_pct_mvc", problem, f"allowed {tolerance:g} to {room:g}")
    if scaling.rest_max_s is not None and scaling.rest_max_s < exercise.rest_s:
        problem = f"{scaling.rest_max_s:g} is below rest_s ({exercise.rest_s:g})"
        yield Fault(f"{place}.rest_max_s", problem, f"allowed {exercise.rest_s:g} to 600")


def _kind_faults(exercise: AnyExercise, place: str) -> Iterator[Fault]:
    if len(set(exercise.workshops)) < len(exercise.workshops):
        yield Fault(f"{place}.workshops", "a workshop is listed twice", "list each once")


def _reference_faults(exercise: AnyExercise, muscles: Sequence[Muscle] | None, place: str) -> Iterator[Fault]:
    wanted = exercise.traits.muscles
    if len(exercise.muscles) != wanted:
        problem = f"got {len(exercise.muscles)} for a {exercise.kind!r} exercise"
        yield Fault(place, problem, f"list exactly {wanted}")
    if len(set(exercise.muscles)) < len(exercise.muscles):
        yield Fault(place, "the same muscle is listed twice", "list two different muscles")
    if muscles is None:
        return
    known = sorted({muscle.id for muscle in muscles})
    for index, name in enumerate(exercise.muscles):
        if name not in known:
            yield Fault(f"{place}[{index}]", f"no muscle has the id {name!r}", f"known muscles: {', '.join(known)}")


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
            problem = f"the exercises order {round(ordered, 1):g}, the ceiling is {allowed:g}"
            yield Fault(f"ceilings.{key}", problem, "order less, or raise the ceiling on purpose")
