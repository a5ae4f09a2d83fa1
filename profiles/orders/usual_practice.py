"""What in an order lies outside usual practice, with the reason and where it comes from. Pure.

A concern asks whoever signs once more, and is then written into the order as acknowledged. What is `refused` is not signed
at all. No bound here is a rule of medicine: the clinician decides, and local rules and licensed practice come first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from musclewood.profiles.orders.daily_dose import daily_dose
from musclewood.profiles.orders.exercises import AnyExercise, Track
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import MAXIMUM, unit_of

# The desk says these in its own language under `desk.concern`; the English must be the same there.
SENTENCES = {
    "reps": "{reps} contractions a day. Over 150 is unusual, over 400 is refused: the most we read of as usual is 340 in a "
    "session (Connell 2014).",
    "minutes": "{minutes} minutes a day. Over 30 is unusual; 90 is the longest order we read of (Hung 2021).",
    "hold": "{title}: holds of {hold} s at up to {effort}. Over 10 s above 60 %, or 6 s above 80 %, raises blood "
    "pressure and tires (MacDougall 1985; Nery 2010); over 15 s above 80 %, or 120 s, is refused (our choice).",
    "rest": "{title}: {rest} s of rest after {hold} s of work at up to {effort}. Usual is as long as the hold, three "
    "times that above 80 %; less than half is refused (our choice).",
    "set-rest": "{title}: {rest} s between sets. Usual is at least 30 s (Husted 2022).",
    "days": "{title}: up to {effort} on seven days a week. Two a week were enough for strength (Husted 2022).",
    "step": "{title}: {points} points more than the order of {day}. Over 10 a week is a leap, less is noise between days; "
    "over 20 is refused (our choice).",
    "trials": "{trials} maximal trials. Three are usual (common practice, no source).",
    "maxima": "The maximum is measured {times} times a day. Once is usual (our choice).",
    "pain-stop": "Only pain of {pain} of 10 ends a session. Pain up to 5 is accepted in studies (Silbernagel 2007).",
    "pain-graft": "Pain of {pain} of 10 ends a session. After a hamstring graft more than 4 is too much (J Clin Med 2025).",
    "acl-angle": "A maximum or strong effort at {low}° to {high}° of the knee in week {week} after an ACL reconstruction. "
    "Between 0° and 45° not before week 12 (our choice, by the strain at 15° and 30° in Beynnon 1995).",
    "acl-hamstring": "A maximum of the hamstrings in week {week} after a hamstring graft. Not before week 12 (our choice).",
    "fresh": "A maximum in week {week} after the operation. Not before the wound is closed (our choice).",
}  # fmt: skip


@dataclass(frozen=True)
class Concern:
    """One thing outside usual practice. `exercise` is the id of the exercise that it is about, '' for the whole order."""

    key: str
    exercise: str = ""
    values: dict[str, Any] = field(default_factory=dict)
    refused: bool = False

    @property
    def id(self) -> str:
        """How it is written into an order once it was acknowledged."""
        return f"{self.key}:{self.exercise}" if self.exercise else self.key

    def sentence(self) -> str:
        return SENTENCES[self.key].format(**self.values)


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


def _dose(order: Prescription) -> Iterator[Concern]:
    reps, minutes = daily_dose(order)
    if reps > 150:
        yield Concern("reps", "", {"reps": reps}, refused=reps > 400)
    if minutes > 30:
        yield Concern("minutes", "", {"minutes": round(minutes)}, refused=minutes > 90)


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
    if calibration.trials > 3:
        yield Concern("trials", "", {"trials": calibration.trials})
    if calibration.every == "session" and order.sessions_per_day > 1:
        yield Concern("maxima", "", {"times": order.sessions_per_day})
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
