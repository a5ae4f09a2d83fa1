"""Invented evenings in each workshop, played through the real rep engine and stopped at a moment worth seeing."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import cache

from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.patterns import goal_of
from musclewood.games.engine.rep_events import Reading, RepEvent, RepMade, RepMissed, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.gallery.made_up import DAY, PLAN
from musclewood.games.workshops import Rules, workshops
from musclewood.profiles.orders.exercises import KINDS
from musclewood.profiles.plan.dose import PlannedExercise

STEP_S = 0.04
LONGEST_S = 300.0
MOMENTS = ("start", "good", "over", "failed", "rest", "weeks")
AT_LEAST = "at least"  # a further moment, where the kind may ask for that
REPS_BEFORE = 3  # made before the moment comes

_HOLD = replace(PLAN.exercises[0], rest_s=4.0)
OF_EACH_KIND: dict[str, PlannedExercise] = {
    name: replace(_HOLD, kind=name, **kind.example) for name, kind in OF_KIND.items()
}
# One exercise for each workshop, of the first kind that it plays.
EXERCISES: dict[str, PlannedExercise] = {
    name: replace(OF_EACH_KIND[workshop.kinds[0]], workshops=(name,)) for name, workshop in workshops().items()
}


def moments_of(workshop: str) -> tuple[str, ...]:
    """What can be seen of a workshop."""
    open_above = KINDS[EXERCISES[workshop].kind].traits.open_above
    return (*MOMENTS, AT_LEAST) if open_above else MOMENTS


@dataclass
class WorkshopMoment:
    """A workshop at one moment: what is seen and what its rules have come to."""

    exercise: PlannedExercise
    view: RepView
    rules: Rules


@cache
def evening(workshop: str, moment: str) -> WorkshopMoment:
    """Play until the moment: 'start', a 'good' effort, one 'over' the band, a 'failed' one, 'rest', or three 'weeks'
    on."""
    exercise = EXERCISES[workshop]
    if moment == AT_LEAST:
        exercise = replace(exercise, asks="at least", tolerance_pct_mvc=0.0)
    shelf = three_weeks(workshop) if moment == "weeks" else three_weeks(workshop)[:4]
    rules = workshops()[workshop].rules(exercise, 5, shelf, DAY)
    view = _play(exercise, rules, moment, _Moment(moment, exercise.rest_s))
    return WorkshopMoment(exercise, view, rules)


class _Moment:
    """Notices when it is time to stop."""

    def __init__(self, name: str, rest_s: float = math.inf) -> None:
        self._name, self._rest_s = name, rest_s
        self._since_s = 0.0
        self._missed = False
        self.made = 0

    def come(self, view: RepView, events: list[RepEvent]) -> bool:
        self.made += sum(isinstance(event, RepMade) for event in events)
        self._missed |= any(isinstance(event, RepMissed) for event in events)
        self._since_s = self._since_s + STEP_S if self._now(view) else 0.0
        return self._since_s >= {"start": 0.4, "over": 1.2, "failed": 0.5}.get(self._name, STEP_S)

    def _now(self, view: RepView) -> bool:
        match self._name:
            case "start":
                return view.phase == "ready"
            case "failed":
                return self._missed
            case "over":
                return view.phase == "effort" and self.made >= REPS_BEFORE and (view.over or view.effort_s > 2.6)
            case "rest":
                return view.phase == "rest" and self.made >= REPS_BEFORE and view.left_s < 0.6 * self._rest_s
            case _:
                far = view.effort_s > 0.1 if _brief(view.kind) else view.held_s >= 0.6 * view.hold_s
                return view.phase == "effort" and self.made >= REPS_BEFORE and far


def _play(
    exercise: PlannedExercise, rules: Rules, moment: str, stop: _Moment, hear: Callable[[RepEvent], None] | None = None
) -> RepView:
    engine, chance = RepEngine(exercise, STEP_S), random.Random(17)
    view = engine.view
    for _ in range(math.ceil(LONGEST_S / STEP_S)):
        spoilt = stop.made >= REPS_BEFORE and moment in ("failed", "over")
        levels = tuple(max(0.0, level + chance.gauss(0, 0.008)) for level in _effort(exercise, view, moment, spoilt))
        events = engine.step(Reading(levels, tuple(level > 0.06 for level in levels)))
        view = engine.view
        rules.step(STEP_S, view, events)
        for event in events:
            if hear:
                hear(event)
        if stop.come(view, events) or view.phase == "done":
            break
    return view


def _effort(exercise: PlannedExercise, view: RepView, moment: str, spoilt: bool) -> tuple[float, ...]:
    """What an able patient does; `spoilt` once the moment asks for another kind of effort."""
    working = view.phase in ("ready", "effort")
    target = view.pattern_target if view.pattern_target is not None else goal_of(view)
    if moment == "start":
        main = 0.0
    elif OF_KIND[exercise.kind].traits.still:
        main = 0.16 if spoilt and working and view.effort_s > 2.0 else 0.015
    elif not working or (_brief(exercise.kind) and view.held_s > exercise.hold_s):
        main = 0.0
    elif spoilt and moment == "over":
        main = view.high + 0.12
    elif spoilt:
        main = target if view.effort_s < 0.35 * exercise.hold_s and not _brief(exercise.kind) else 0.0
        main = 0.12 if _brief(exercise.kind) and view.effort_s < 0.2 else main
    else:
        main = target
    return (main, main * OF_KIND[exercise.kind].other)[: len(exercise.channels)]


def _brief(kind: str) -> bool:
    """Over too soon to be steered."""
    return not OF_KIND[kind].pattern.steers and not OF_KIND[kind].traits.still


@cache
def three_weeks(workshop: str) -> list[Product]:
    """What three weeks of work left on the shelf, the oldest first."""
    exercise, reps = replace(EXERCISES[workshop], rest_s=1.0), []
    rules = workshops()[workshop].rules(exercise, 1, [], DAY)

    def hear(event: RepEvent) -> None:
        if isinstance(event, RepMade):
            reps.append(event.rep)

    _play(exercise, rules, "", _Never(), hear)
    kept: list[Product] = []
    for visit in range(11):
        for rep in reps[:5]:
            worn = replace(rep, set_number=10 * visit + 1, steadiness=max(0.0, rep.steadiness - 0.03 * (10 - visit)))
            day = DAY - timedelta(days=21 - 2 * visit)
            kept.append(product_of(worn, workshop, day, place=len(kept)))
    return kept


class _Never(_Moment):
    """Plays the exercise to its end."""

    def __init__(self) -> None:
        super().__init__("never")

    def come(self, view: RepView, events: list[RepEvent]) -> bool:
        return False
