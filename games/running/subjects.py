"""Which muscles of an order a test is about, and the test itself, made ready for a source."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from musclewood.assets.saying import say
from musclewood.games.examining.examination import (
    Bounds,
    Examination,
    Refer,
    examine_ladder,
    examine_opposite,
    examine_reference,
    examine_sides,
)
from musclewood.games.examining.steps import Subject
from musclewood.games.running.errors import CommandError
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import MAXIMUM, name_of
from musclewood.profiles.orders.tables import Muscle
from musclewood.profiles.plan.dose import PlannedExercise, planned
from musclewood.profiles.visits.entries import Purpose
from musclewood.signal.measures.calibration import CalibrationSettings

Kind = Literal["reference", "sides", "opposite", "ladder"]
KINDS: tuple[Kind, ...] = ("reference", "sides", "opposite", "ladder")
LADDER_BELOW = 5.0  # % of the reference: how far below the order's least effort the ladder may go; our choice


@dataclass(frozen=True)
class Choice:
    """How a test is to be done. `rest_s` is between trials and sides of a test of both sides."""

    kind: Kind
    channels: int
    muscle: str = ""
    first: Literal["involved", "uninvolved"] = "uninvolved"
    at_once: bool = False
    purpose: Purpose = "visit"
    rest_s: float = 60.0


def examination_of(order: Prescription, choice: Choice, step_s: float, refer: Refer) -> Examination:
    """The test, from an order or a draft of one. Raises CommandError where the order has no muscle for it."""
    bounds = Bounds(order.stop.pain_stop, order.stop.pain_rise_stop, order.calibration.reference == MAXIMUM)
    makers: dict[Kind, Callable[..., Examination]] = {
        "reference": _reference, "sides": _sides, "opposite": _opposite, "ladder": _ladder
    }  # fmt: skip
    try:
        return makers[choice.kind](order, choice, step_s, bounds, refer)
    except ValueError as error:
        raise CommandError(say("wrong.in-file", name=choice.kind, problem=error.args[0])) from None


def involved_muscle(order: Prescription, name: str = "") -> Muscle:
    """The muscle that was named, else the first involved one. Raises CommandError."""
    found = [one for one in order.muscles if (one.id == name if name else one.role == "involved")]
    if not found:
        known = ", ".join(one.id for one in order.muscles)
        raise CommandError(say("command.no-muscle", value=name or "involved", known=known))
    return found[0]


def _reference(order: Prescription, choice: Choice, step_s: float, bounds: Bounds, refer: Refer) -> Examination:
    muscle, wanted = involved_muscle(order, choice.muscle), order.calibration
    settings = CalibrationSettings(
        rest_s=wanted.rest_s,
        trials=wanted.trials,
        trial_s=wanted.trial_s,
        rest_between_s=wanted.rest_between_s,
        maximal=wanted.reference == MAXIMUM,
    )
    subject = _subject(muscle, choice.channels)
    return examine_reference(subject, name_of(wanted), settings, step_s, bounds, refer)


def _sides(order: Prescription, choice: Choice, step_s: float, bounds: Bounds, refer: Refer) -> Examination:
    muscle = involved_muscle(order, choice.muscle)
    involved = _subject(muscle, choice.channels)
    ordered = next((one for one in order.muscles if one.role == "uninvolved" and one.name == muscle.name), None)
    two = choice.channels > 1
    other: Literal["left", "right"] = "right" if involved.side == "left" else "left"
    channel = (ordered.channel if ordered else 1 - min(1, involved.channel)) if two else involved.channel
    if two and channel == involved.channel:
        channel = 1 - min(1, involved.channel)
    uninvolved = Subject(ordered.id if ordered else f"{muscle.id[:24]}-other", muscle.name, other, channel)
    way: Literal["both at once", "two channels", "moved sensor"]
    way = "moved sensor" if not two else "both at once" if choice.at_once else "two channels"
    if choice.at_once and not two:
        raise ValueError(say("command.both-at-once"))
    return examine_sides(
        involved,
        uninvolved,
        step_s,
        bounds,
        way=way,
        first=choice.first,
        purpose=choice.purpose,
        rest_s=choice.rest_s,
    )


def _opposite(order: Prescription, choice: Choice, step_s: float, bounds: Bounds, refer: Refer) -> Examination:
    if choice.channels < 2:
        raise ValueError(say("command.two-channels"))
    muscle = involved_muscle(order, choice.muscle)
    opposite = next((one for one in order.muscles if one.role == "opposite"), None)
    if opposite is None:
        raise ValueError(say("command.no-opposite"))
    exercise = _hold(order, muscle, both=opposite)
    return examine_opposite(exercise, _subject(muscle, 2), _subject(opposite, 2), step_s, bounds)


def _ladder(order: Prescription, choice: Choice, step_s: float, bounds: Bounds, refer: Refer) -> Examination:
    muscle = involved_muscle(order, choice.muscle)
    exercise = _hold(order, muscle)
    ordered = next(one for one in order.exercises if one.id == exercise.exercise_id)
    effort, scaling, band = ordered.effort, ordered.scaling, exercise.tolerance_pct_mvc
    bands = (scaling.tolerance_min_pct_mvc or band, scaling.tolerance_max_pct_mvc or band)
    low = max(exercise.quiet_pct_mvc + exercise.tolerance_pct_mvc, effort.min_pct_mvc - LADDER_BELOW)
    subject = _subject(muscle, choice.channels)
    return examine_ladder(
        exercise,
        subject,
        (low, effort.max_pct_mvc),
        step_s,
        bounds,
        reference=name_of(order.calibration),
        bands_pct=bands,
    )


def _hold(order: Prescription, muscle: Muscle, both: Muscle | None = None) -> PlannedExercise:
    """The exercise whose effort is tried, as a plain hold."""
    own = [one for one in order.exercises if one.muscles[0] == muscle.id]
    chosen = next((one for one in own if one.kind == "hold"), own[0] if own else None)
    if chosen is None:
        raise ValueError(f"no exercise trains {muscle.id}")
    exercise = planned(order, chosen)
    channels = (muscle.channel, both.channel) if both else (muscle.channel,)
    return replace(exercise, kind="hold", channels=channels, own={}, pattern=None, opposite_ceiling_pct_mvc=None)


def _subject(muscle: Muscle, channels: int) -> Subject:
    if muscle.channel >= channels:
        raise ValueError(f"{muscle.id} is on channel {muscle.channel}, the source has {channels}")
    return Subject(muscle.id, muscle.name, muscle.side, muscle.channel)
