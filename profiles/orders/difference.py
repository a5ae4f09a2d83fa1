"""What changes from one revision of an order to the next, in sentences that a therapist can read before signing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

from musclewood.profiles.orders.daily_dose import dose_in_words
from musclewood.profiles.orders.exercises import AnyExercise, at_effort, reps_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import in_unit
from musclewood.profiles.orders.tables import DAYS, Limits, Muscle, Retest

# How a parameter is called in a sentence, and its unit. What is not listed is called by its key.
_NAMES: dict[str, tuple[str, str]] = {
    "sets": ("sets", ""),
    "reps": ("repetitions a set", ""),
    "hold_s": ("hold", "s"),
    "rest_s": ("rest between repetitions", "s"),
    "set_rest_s": ("rest between sets", "s"),
    "rise_s": ("time to reach the band", "s"),
    "pattern": ("pattern", ""),
    "quiet_pct_mvc": ("level that counts as rest", "%MVC"),
    "opposite_ceiling_pct_mvc": ("most that the opposite muscle may do", "%MVC"),
    "difference_pct_mvc": ("difference allowed between the sides", "%MVC"),
    "asks": ("effort asked for", ""),
    "results": ("how often a good repetition is told of", ""),
    "door_closed": ("repetitions without seeing the effort", ""),
    "target_pct_mvc": ("effort", "%MVC"),
    "min_pct_mvc": ("lowest effort", "%MVC"),
    "max_pct_mvc": ("highest effort that may be reached", "%MVC"),
    "tolerance_pct_mvc": ("half-width of the band", "%MVC"),
    "ceiling_pct_mvc": ("effort ceiling", "%MVC"),
    "on": ("automatic scaling", ""),
    "success_target": ("share of repetitions that should succeed", ""),
    "step_pct_mvc": ("largest step from one session to the next", "%MVC"),
    "tolerance_min_pct_mvc": ("narrowest band", "%MVC"),
    "tolerance_max_pct_mvc": ("widest band", "%MVC"),
    "rest_max_s": ("longest rest", "s"),
    "sessions_per_day": ("sessions a day", ""),
    "hours_between_sessions": ("time between sessions", "h"),
    "review": ("review", ""),
    "expires": ("last day", ""),
    "timezone": ("time zone", ""),
    "language": ("language", ""),
    "record_samples": ("recording of the raw signal", ""),
    "pain_stop": ("pain at which a session ends", "of 10"),
    "pain_lighten": ("pain from which it goes easier", "of 10"),
    "pain_rise_stop": ("rise of pain that ends a session", ""),
    "lighten_pct": ("how much easier after pain", "%"),
    "calm_sessions": ("calm sessions before anything is raised", ""),
    "fatigue_decline_pct": ("fatigue at which a set is cut short", "%"),
    "reps_per_day": ("most repetitions a day", ""),
    "reps_per_week": ("most repetitions a week", ""),
    "minutes_per_day": ("longest day", "min"),
    "sessions_per_week": ("most sessions a week", ""),
    "rest_between_s": ("rest between trials", "s"),
    "trials": ("trials", ""),
    "trial_s": ("length of a trial", "s"),
    "every": ("the reference is measured every", ""),
    "reference": ("what 100 % means", ""),
    "task": ("task", ""),
    "share": ("share of what is comfortable", ""),
    "start_s": ("latest start of a trial", "s"),
    "release_s": ("longest letting go", "s"),
    "retest": ("test at home", ""),
    "test": ("test", ""),
    "every_weeks": ("weeks from one to the next", ""),
    "first": ("first on", ""),
    "allowed": ("practice without a sensor", ""),
    "side": ("side", ""),
    "role": ("role", ""),
    "channel": ("channel", ""),
}


def difference(old: Prescription | None, new: Prescription) -> list[str]:
    """One sentence for every change; the day's dose last, if it changed. Nothing for equal orders."""
    if old is None:
        return [
            in_unit(line, new.calibration)
            for line in (f"This is the first order for {new.patient}.", dose_in_words(new))
        ]
    sentences = [*_exercises(old, new), *_schedule(old, new)]
    for part, lead in (
        ("stop", "Stop rules"),
        ("ceilings", "Ceilings"),
        ("calibration", "Reference"),
        ("practice", "Practice"),
    ):
        sentences += _table(getattr(old, part).model_dump(), getattr(new, part).model_dump(), lead)
    sentences += _table(_limits(old), _limits(new), "Limits")
    sentences += _table(_retest(old), _retest(new), "Test at home")
    sentences += _muscles(old, new)
    sentences += _sensors(old, new)
    if dose_in_words(old) != dose_in_words(new):
        sentences.append(f"{dose_in_words(new)} Before: {_lower(dose_in_words(old).removeprefix('A day: '))}")
    return [in_unit(sentence, new.calibration) for sentence in sentences]


def _sensors(old: Prescription, new: Prescription) -> Iterator[str]:
    before, after = ({one.id: one for one in order.sensors or ()} for order in (old, new))
    for key, sensor in after.items():
        if before.get(key) != sensor:
            yield f"Sensor {sensor.name!r}: its description is {'changed' if key in before else 'enclosed'}."
    for key, sensor in before.items():
        if key not in after:
            yield f"Sensor {sensor.name!r}: its description is no longer enclosed."


def _limits(order: Prescription) -> dict[str, Any]:
    return (order.limits or Limits()).model_dump()


def _retest(order: Prescription) -> dict[str, Any]:
    return order.retest.model_dump() if order.retest else dict.fromkeys(Retest.model_fields)


def _exercises(old: Prescription, new: Prescription) -> Iterator[str]:
    before = {exercise.id: exercise for exercise in old.exercises}
    after = {exercise.id: exercise for exercise in new.exercises}
    for key, exercise in after.items():
        if key not in before:
            yield f"New: {exercise.title}, {_dose(exercise)}."
        elif before[key].kind != exercise.kind:
            yield f"{exercise.title}: now a {exercise.kind!r} exercise, {_dose(exercise)}."
        else:
            yield from _table(_flat(before[key]), _flat(exercise), exercise.title)
    for key, exercise in before.items():
        if key not in after:
            yield f"No more: {exercise.title}."
    kept_before = [key for key in before if key in after]
    kept_after = [key for key in after if key in before]
    if kept_before != kept_after:
        yield f"The order of the exercises is now: {', '.join(one.title for one in new.exercises)}."


def _flat(exercise: AnyExercise) -> dict[str, Any]:
    values = exercise.model_dump(exclude={"id", "kind", "effort", "scaling"})
    return values | exercise.effort.model_dump() | exercise.scaling.model_dump()


def _dose(exercise: AnyExercise) -> str:
    return (
        f"{exercise.sets} × {exercise.reps} ({reps_of(exercise)} in all) "
        f"{at_effort(exercise, band=False)} for {exercise.hold_s:g} s"
    )


def _schedule(old: Prescription, new: Prescription) -> Iterator[str]:
    if set(old.days) != set(new.days):
        yield f"Days: {_days(new)} instead of {_days(old)}."
    keys = ("sessions_per_day", "hours_between_sessions", "review", "expires", "timezone", "language", "record_samples")
    for key in keys:
        yield from _table({key: getattr(old, key)}, {key: getattr(new, key)}, "")


def _days(prescription: Prescription) -> str:
    return " ".join(day for day in DAYS if day in prescription.days)


def _muscles(old: Prescription, new: Prescription) -> Iterator[str]:
    before: dict[str, Muscle] = {muscle.id: muscle for muscle in old.muscles}
    for muscle in new.muscles:
        if muscle.id not in before:
            yield f"New muscle: {muscle.name}, {muscle.side}."
        else:
            yield from _table(before.pop(muscle.id).model_dump(), muscle.model_dump(), muscle.name)
    for muscle in before.values():
        yield f"No more: the muscle {muscle.name}, {muscle.side}."


def named(key: str) -> tuple[str, str]:
    """How a parameter is called in a sentence, and its unit."""
    return _NAMES.get(key, (key.replace("_", " "), ""))


def _table(old: dict[str, Any], new: dict[str, Any], lead: str) -> Iterator[str]:
    for key, value in new.items():
        before = old.get(key)
        if before == value:
            continue
        name, unit = named(key)
        what = f"{lead}: {name}" if lead else f"{name[:1].upper()}{name[1:]}"
        # 'Up' or 'down' in words, because two numbers are easily read the wrong way round.
        if _is_number(before) and _is_number(value):
            yield f"{what} {'up' if value > before else 'down'} from {before:g} to {shown(value, unit)}."
        else:
            yield f"{what} {shown(value, unit)} instead of {shown(before, unit)}."


def shown(value: Any, unit: str) -> str:
    """A value as it stands in a sentence."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return " ".join(shown(entry, "") for entry in value)
    text = f"{value:g}" if isinstance(value, int | float) else str(value)
    return f"{text} {unit}" if unit else text


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
