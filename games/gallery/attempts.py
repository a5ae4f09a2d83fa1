"""Invented attempts of every kind and verdict, judged by the real rep engine, for pictures and
tests of what is told."""

from __future__ import annotations

import math
from copy import deepcopy
from dataclasses import replace
from functools import cache

from musclewood.games.engine.how_it_went import Evening, Work
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.patterns import goal_of
from musclewood.games.engine.rep_events import Reading, RepMade, RepMissed, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.results import ALIKE
from musclewood.games.engine.teacher import Teacher
from musclewood.games.gallery.evenings import OF_EACH_KIND
from musclewood.games.gallery.made_up import DAY
from musclewood.profiles.plan.dose import PlannedExercise

STEP_S = 0.02
EVENING = (
    ("hold", "kiln", ("good", "good", "over", "good", "weak", "good*", "short*", "good", "rest", "good"), 0.94, (0.9,
    0.91, 0.93, 0.88)),
    ("quick", "smithy", ("good", "slow", "good", "good*", "over", "good"), 2.1, (2.4, 2.6, 2.3)),
    ("track", "loom", ("good", "over", "good"), 0.9, ()),
)  # fmt: skip
LIMIT_S = 120.0


def codes_of(kind: str) -> tuple[str, ...]:
    """Everything that may be told of an attempt of this kind."""
    unheard = ("absent", "rest") if OF_KIND[kind].traits.still else ("broken",)
    if OF_KIND[kind].traits.begins_itself and not OF_KIND[kind].traits.still:
        unheard = (*unheard, "late")
    return ("good", *(code for code in (*OF_KIND[kind].told, *ALIKE) if code not in unheard))


def told_of(kind: str, code: str, *, alike: int = 1, unseen: bool = False) -> tuple[Teacher, RepView]:
    """A teacher after `alike` attempts that came to this code, and what was seen then. ValueError if none did."""
    teacher, view = _played(kind, code, alike, unseen)
    return deepcopy(teacher), view


@cache
def _played(kind: str, code: str, alike: int, unseen: bool) -> tuple[Teacher, RepView]:
    exercise = replace(OF_EACH_KIND[kind], sets=1, reps=20, rest_s=2.0, unseen_share=1.0 if unseen else 0.0)
    engine, teacher, judged = RepEngine(exercise, STEP_S), Teacher(exercise), 0
    for _ in range(math.ceil(LIMIT_S * alike / STEP_S)):
        view = engine.view
        if code == "broken" and view.phase == "effort" and view.effort_s > 1.0:
            events = engine.interrupt()
        else:
            readable = not (code == "unreadable" and view.phase == "effort" and view.effort_s > 0.8)
            levels = _effort(exercise, view, code)
            events = engine.step(Reading(levels, tuple(level > 0.06 for level in levels), readable))
        teacher.hear(events)
        judged += sum(isinstance(event, RepMissed) for event in events)
        made = [event for event in events if isinstance(event, RepMade)]
        told = teacher.told
        if told and told.code == code and (judged >= alike or made):
            return teacher, replace(engine.view, phase="rest", left_s=1.4, quiet=True, readable=True)
        if engine.done:
            break
    raise ValueError(f"no attempt of {kind} came to {code}")


@cache
def an_evening() -> Evening:
    """One that is looked back on: three exercises, with all that may happen; a star closes the door."""
    works = []
    for kind, workshop, codes, figure, before in EVENING:
        told = [told_of(kind, code.rstrip("*"), unseen=code.endswith("*"))[0].told for code in codes]
        works.append(Work(kind, workshop, "", tuple(one for one in told if one), figure, before))
    return Evening(DAY, tuple(works))


def _effort(exercise: PlannedExercise, view: RepView, code: str) -> tuple[float, ...]:
    """The effort that comes to this code."""
    kind, working, time_s = OF_KIND[exercise.kind], view.phase in ("ready", "effort"), view.effort_s
    goal = view.pattern_target if view.pattern_target is not None else goal_of(view)
    brief = exercise.kind == "quick"
    main = goal if working else 0.0
    second = kind.other
    if kind.traits.still:
        main = 0.2 if code == "stirred" and view.phase == "effort" and time_s % 2.0 > 1.0 else 0.01
    match code:
        case "absent":
            main = 0.0
        case "weak" if working:
            main = 0.5 * view.low if not brief else 0.6 * view.low
        case "over" if working:
            main = view.high + (0.08 if not exercise.pattern else 0.14)
        case "slow" if working:
            main = min(goal, 0.07 + 0.22 * time_s)
        case "short" if exercise.pattern and working:
            main = goal if time_s < 0.55 * exercise.hold_s else max(0.0, goal - 0.2)
        case "short" if not exercise.pattern and time_s > (0.1 if brief else 0.55 * exercise.hold_s):
            main = 0.0
        case "rest" if view.phase == "rest" and view.left_s < 1.0:
            main = 0.2
        case "helped":
            second = 0.6
        case "unlike":
            second = 0.72
    if brief and code in ("good", "over") and view.held_s + (time_s if code == "over" else 0) > exercise.hold_s * 1.4:
        main = 0.0
    if brief and code in ("weak", "slow") and time_s > (1.2 if code == "weak" else 2.0):
        main = 0.0
    if code in ("weak", "over") and not brief and not exercise.pattern and time_s > 3.0:
        main = 0.0
    if code in ("helped", "unlike") and time_s > 4.0:
        main = 0.0
    return (main, main * second)[: len(exercise.channels)]
