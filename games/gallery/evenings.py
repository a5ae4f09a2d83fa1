"""Invented evenings in each workshop, played through the real rep engine and stopped at a moment worth seeing."""

from __future__ import annotations

import math
import random
from copy import deepcopy
from dataclasses import dataclass, field, replace
from datetime import timedelta
from functools import cache
from typing import Self

from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.patterns import goal_of
from musclewood.games.engine.rep_events import JudgedRep, Reading, RepMade, RepMissed, RepView
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
ALIKE_AT_FIRST = ("good", "over", "failed", "rest")  # the same play, until something is spoilt or stopped
REPS_BEFORE = 3  # made before the moment comes
A_VISIT = 5  # what each visit of three weeks leaves on the shelf

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
    if moment in ALIKE_AT_FIRST:
        playing = deepcopy(_begun(workshop))
    else:
        playing = _Playing.of(workshop, three_weeks(workshop)[: None if moment == "weeks" else 4], moment)
    stop, come = _Moment(moment, playing.exercise.rest_s), False
    while not (come or playing.over):
        playing.step(moment)
        come = stop.come(playing)
    return WorkshopMoment(playing.exercise, playing.view, playing.rules)


@dataclass
class _Playing:
    """An exercise as an able patient plays it, step by step."""

    exercise: PlannedExercise
    rules: Rules
    engine: RepEngine
    chance: random.Random
    view: RepView
    steps: int = 0
    made: list[JudgedRep] = field(default_factory=list)
    missed: bool = False

    @classmethod
    def of(cls, workshop: str, shelf: list[Product], moment: str = "", seed: int = 5, **changes: float) -> Self:
        exercise = replace(EXERCISES[workshop], **changes)  # type: ignore[arg-type]
        if moment == AT_LEAST:
            exercise = replace(exercise, asks="at least", tolerance_pct_mvc=0.0)
        rules = workshops()[workshop].rules(exercise, seed, shelf, DAY)
        engine = RepEngine(exercise, STEP_S)
        return cls(exercise, rules, engine, random.Random(17), engine.view)

    @property
    def over(self) -> bool:
        return self.view.phase == "done" or self.steps >= math.ceil(LONGEST_S / STEP_S)

    def step(self, moment: str = "") -> None:
        spoilt = len(self.made) >= REPS_BEFORE and moment in ("failed", "over")
        wanted = _effort(self.exercise, self.view, moment, spoilt)
        levels = tuple(max(0.0, level + self.chance.gauss(0, 0.008)) for level in wanted)
        events = self.engine.step(Reading(levels, tuple(level > 0.06 for level in levels)))
        self.view = self.engine.view
        self.rules.step(STEP_S, self.view, events)
        self.steps += 1
        self.made += [event.rep for event in events if isinstance(event, RepMade)]
        self.missed |= any(isinstance(event, RepMissed) for event in events)


@cache
def _begun(workshop: str) -> _Playing:
    """Up to where the moments part."""
    playing = _Playing.of(workshop, three_weeks(workshop)[:4])
    while len(playing.made) < REPS_BEFORE and not playing.over:
        playing.step()
    return playing


class _Moment:
    """Notices when it is time to stop."""

    def __init__(self, name: str, rest_s: float) -> None:
        self._name, self._rest_s = name, rest_s
        self._since_s = 0.0

    def come(self, playing: _Playing) -> bool:
        self._since_s = self._since_s + STEP_S if self._now(playing, playing.view) else 0.0
        return self._since_s >= {"start": 0.4, "over": 1.2, "failed": 0.5}.get(self._name, STEP_S)

    def _now(self, playing: _Playing, view: RepView) -> bool:
        practised = len(playing.made) >= REPS_BEFORE
        match self._name:
            case "start":
                return view.phase == "ready"
            case "failed":
                return playing.missed
            case "over":
                return view.phase == "effort" and practised and (view.over or view.effort_s > 2.6)
            case "rest":
                return view.phase == "rest" and practised and view.left_s < 0.6 * self._rest_s
            case _:
                far = view.effort_s > 0.1 if _brief(view.kind) else view.held_s >= 0.6 * view.hold_s
                return view.phase == "effort" and practised and far


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
    playing = _Playing.of(workshop, [], seed=1, rest_s=1.0)
    while len(playing.made) < A_VISIT and not playing.over:
        playing.step()
    kept: list[Product] = []
    for visit in range(11):
        for rep in playing.made:
            worn = replace(rep, set_number=10 * visit + 1, steadiness=max(0.0, rep.steadiness - 0.03 * (10 - visit)))
            day = DAY - timedelta(days=21 - 2 * visit)
            kept.append(product_of(worn, workshop, day, place=len(kept)))
    return kept
