"""Where orders and workshops meet: an order names workshops, the workshops say which kinds they play. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from musclewood.assets.saying import Saying, say
from musclewood.games.workshops import fitting, workshops
from musclewood.profiles.errors import Fault
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.dose import DayPlan


def workshop_faults(order: Prescription) -> list[Fault]:
    """Workshops that an order names and that are unknown here, or do not play the kind they are named for."""
    return [
        Fault(f"exercises[{number}].workshops[{place}]", _problem(name, exercise.kind), _remedy(exercise.kind))
        for number, exercise in enumerate(order.exercises)
        for place, name in enumerate(exercise.workshops)
        if name not in fitting(exercise.kind)
    ]


def in_workshops(plan: DayPlan) -> DayPlan:
    """The plan with those workshops alone that are here and fit.

    Where an order names none of them, as one from a later desk may, any that fits will do: dose and verdicts are the
    same.
    """
    exercises = tuple(
        replace(one, workshops=playable(one.kind, one.workshops) or one.workshops) for one in plan.exercises
    )
    return replace(plan, exercises=exercises)


def playable(kind: str, ordered: Sequence[str]) -> tuple[str, ...]:
    """Those of the ordered workshops that play this kind here; else all that do."""
    fit = fitting(kind)
    return tuple(name for name in ordered if name in fit) or fit


def _problem(name: str, kind: str) -> Saying:
    return (
        say("wrong.does-not-play", name=name, kind=kind) if name in workshops() else say("wrong.no-workshop", name=name)
    )


def _remedy(kind: str) -> Saying:
    return say("mend.allowed", what=", ".join(map(repr, fitting(kind))))
