"""What in an order lies outside usual practice, with the reason and where it comes from. Pure.

A concern asks whoever signs once more, and is then written into the order as acknowledged. What is `refused` is not
signed at all. No bound here is a rule of medicine: the clinician decides, and local rules and licensed practice come
first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from musclewood.assets.saying import Saying, say
from musclewood.profiles.orders.daily_dose import daily_dose
from musclewood.profiles.orders.exercises import AnyExercise, Track
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import MAXIMUM, unit_of
from musclewood.profiles.orders.retests import SIDE_TRIALS


@dataclass(frozen=True)
class Concern:
    """One thing outside usual practice. `exercise` is the id of the exercise that it is about,
    '' for the whole order."""

    key: str
    exercise: str = ""
    values: dict[str, Any] = field(default_factory=dict)
    refused: bool = False

    @property
    def id(self) -> str:
        """How it is written into an order once it was acknowledged."""
        return f"{self.key}:{self.exercise}" if self.exercise else self.key

    def sentence(self) -> Saying:
        return say(f"desk.concern.{self.key}", **self.values)


def concerns(order: Prescription, previous: Prescription | None = None) -> tuple[Concern, ...]:
    """Everything outside usual practice, what is refused first."""
    found = [*_dose(order), *_maximum(order), *_pain(order)]
    for exercise in order.exercises:
        found += _exercise(order, exercise)
        found += _leap(order, exercise, previous)
    return tuple(sorted(found, key=lambda one: not one.refused))


def acknowledged(order: Prescription) -> tuple[Concern, ...]:
    """The concerns that whoever signed has seen and meant."""
    return tuple(one for one in concerns(order) if one.id in (order.acknowledged or ()))


def highest(exercise: AnyExercise) -> float:
    """The most effort that an exercise may come to ask for, %MVC."""
    return exercise.effort.max_pct_mvc if exercise.scaling.on else exercise.effort.target_pct_mvc


# From how many contractions and minutes a day on: key of the concern, and its bound. Groups have bounds of their own.
_REPS = {None: ("reps", 150), "stroke": ("reps-stroke", 300), "face": ("reps-face", 60)}
_MINUTES = {None: ("minutes", 30), "child": ("minutes-child", 15)}


def _group(order: Prescription) -> str | None:
    return order.limits.group if order.limits is not None else None


def _dose(order: Prescription) -> Iterator[Concern]:
    reps, minutes = daily_dose(order)
    key, most = _REPS.get(_group(order), _REPS[None])
    if reps > most:
        yield Concern(key if reps <= 400 else "reps", "", {"reps": reps}, refused=reps > 400)
    key, longest = _MINUTES.get(_group(order), _MINUTES[None])
    if minutes > longest:
        yield Concern(key if minutes <= 90 else "minutes", "", {"minutes": round(minutes)}, refused=minutes > 90)


def _exercise(order: Prescription, exercise: AnyExercise) -> Iterator[Concern]:
    if exercise.traits.still:
        return  # staying quiet loads nobody
    # A share of a submaximal reference says nothing of the maximum, so only times are judged then.
    maximal = order.calibration.reference == MAXIMUM
    effort, hold, rest = highest(exercise) if maximal else 0.0, exercise.hold_s, exercise.rest_s
    told = {
        "title": exercise.title,
        "hold": f"{hold:g}",
        "rest": f"{rest:g}",
        "effort": f"{highest(exercise):g} {unit_of(order.calibration)}",
    }
    if (hold > 10 and effort > 60) or (hold > 6 and effort > 80) or hold > 120:
        yield Concern("hold", exercise.id, told, refused=(hold > 15 and effort > 80) or hold > 120)
    # A pattern works its muscle as long as its share of the target says.
    work = hold * (sum(exercise.pattern) / len(exercise.pattern) if isinstance(exercise, Track) else 1.0)
    if rest < work * (3 if effort > 80 else 1):
        yield Concern("rest", exercise.id, told, refused=rest < 0.5 * work)
    if exercise.sets > 1 and exercise.set_rest_s < 30:
        yield Concern("set-rest", exercise.id, told | {"rest": f"{exercise.set_rest_s:g}"})
    if len(order.days) == 7 and effort > 60:
        yield Concern("days", exercise.id, told)


def _leap(order: Prescription, exercise: AnyExercise, previous: Prescription | None) -> Iterator[Concern]:
    if previous is None or order.issued - previous.issued > timedelta(days=7):
        return
    for before in previous.exercises:
        more = exercise.effort.target_pct_mvc - before.effort.target_pct_mvc
        if before.id == exercise.id and more > 10 and not exercise.traits.still:
            told = {"title": exercise.title, "points": f"{more:g}", "day": previous.issued.isoformat()}
            yield Concern("step", exercise.id, told, refused=more > 20)


def _maximum(order: Prescription) -> Iterator[Concern]:
    calibration, limits = order.calibration, order.limits
    if calibration.reference != MAXIMUM:
        return
    if _group(order) in ("face", "child"):
        yield Concern(f"maximum-{_group(order)}", "", {}, refused=_group(order) == "face")
    if calibration.trials > 3:
        yield Concern("trials", "", {"trials": calibration.trials})
    if calibration.every == "session" and order.sessions_per_day > 1:
        yield Concern("maxima", "", {"times": order.sessions_per_day})
    if order.retest is not None:
        tested = SIDE_TRIALS if order.retest.test == "both-sides" else calibration.trials
        before = calibration.trials * (order.sessions_per_day if calibration.every == "session" else 1)
        yield Concern("retest", "", {"trials": tested + before, "times": before})
    if limits is None or limits.weeks_since is None:
        return
    week = limits.weeks_since
    low = 0 if limits.angle_from_deg is None else limits.angle_from_deg
    if limits.operation == "acl-reconstruction" and week < 12:
        high = 90 if limits.angle_to_deg is None else limits.angle_to_deg
        if low < 45:
            yield Concern("acl-angle", "", {"low": low, "high": high, "week": week})
        if limits.graft == "hamstring" and any(_is_hamstring(one.name) for one in order.muscles):
            yield Concern("acl-hamstring", "", {"week": week})
    elif limits.operation is not None and week < 2:
        yield Concern("fresh", "", {"week": week})


def _is_hamstring(muscle: str) -> bool:
    return any(name in muscle.lower() for name in ("biceps femoris", "semitendinosus", "semimembranosus", "hamstring"))


def _pain(order: Prescription) -> Iterator[Concern]:
    pain = order.stop.pain_stop
    if order.limits is not None and order.limits.graft == "hamstring" and pain > 4:
        yield Concern("pain-graft", "", {"pain": pain})
    elif pain > 5:
        yield Concern("pain-stop", "", {"pain": pain})
