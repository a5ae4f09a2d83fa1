"""Thousands of invented pasts, in which targets were eased, lightened and taken up again: does anything rise that must
not?

Run `python tests/bench/scaling_pasts.py [PASTS]`. It prints how many next targets rose by more than the order's step,
how many got harder while pain, fatigue or an unreadable signal held them, and how often the patient was told the
opposite of what was done. All three must be 0.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from typing import Any

from musclewood.profiles.journal.history import History, PastRep, PastSession
from musclewood.profiles.journal.records import SessionEnd, SessionStart
from musclewood.profiles.orders.exercises import AnyExercise, Relax
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template, template_names
from musclewood.profiles.plan.dose import PlannedExercise, plan_today

START = datetime(2026, 11, 30, 9, tzinfo=UTC)
EASE_AFTER = 3  # misses in a row, as in a session
KEEPS_WHERE_IT_WAS_LEFT = "left_at" in {field.name for field in fields(PastSession)}


def an_order(chance: random.Random) -> Prescription:
    """A template on every day of the week, some without scaling, with other steps, bounds and calm times."""
    order = template(chance.choice(template_names()))
    exercises = []
    for exercise in order.exercises:
        bounds = exercise.scaling.model_copy(
            update={"on": chance.random() < 0.9, "step_pct_mvc": chance.choice((0.5, 2.0, 5.0))}
        )
        exercises.append(exercise.model_copy(update={"scaling": bounds}))
    stop = order.stop.model_copy(
        update={"calm_sessions": chance.randint(1, 4), "lighten_pct": chance.choice((0, 10, 30))}
    )
    ceilings = order.ceilings.model_copy(
        update={"sessions_per_week": 28, "reps_per_week": 10_000, "reps_per_day": 2000}
    )
    return order.model_copy(
        update={"days": DAYS, "exercises": tuple(exercises), "stop": stop, "ceilings": ceilings, "sessions_per_day": 1}
    )


def played(
    order: Prescription, asked: tuple[PlannedExercise, ...], number: int, rests: dict[str, float], chance: random.Random
) -> PastSession:
    """A session as somebody of some skill plays it: eased after misses, broken off, with pain, tired, or unreadable."""
    reps: list[PastRep] = []
    left_at: dict[str, float] = {}
    tired: set[str] = set()
    skill = chance.random()
    for planned in asked:
        if chance.random() < 0.15:
            continue  # not reached today
        exercise = next(one for one in order.exercises if one.id == planned.exercise_id)
        target, misses = planned.target_pct_mvc, 0
        if chance.random() < 0.1:
            tired.add(exercise.id)
        for _ in range(chance.randint(1, 2 * planned.reps)):
            verdict = "counted" if chance.random() < skill else chance.choice(("weak", "short", "over"))
            if chance.random() < 0.01:
                verdict = "unreadable"
            reps.append(PastRep(exercise.id, verdict, target, planned.tolerance_pct_mvc))
            left_at.pop(exercise.id, None)
            misses = misses + 1 if verdict in ("weak", "short") else 0
            if misses >= EASE_AFTER and exercise.scaling.on and not isinstance(exercise, Relax):
                misses, target = 0, max(exercise.effort.min_pct_mvc, target - exercise.scaling.step_pct_mvc)
                left_at[exercise.id] = target
    began = START + timedelta(days=number)
    pain = chance.choice((0, 0, 0, 0, 1, 2, order.stop.pain_lighten, order.stop.pain_stop))
    extra: Any = {"left_at": left_at, "rests": rests} if KEEPS_WHERE_IT_WAS_LEFT else {}
    return PastSession(
        number + 1,
        SessionStart("HB-0042", order.revision, "ble", began.isoformat(), "Europe/Prague"),
        SessionEnd((began + timedelta(minutes=10)).isoformat(), "complete"),
        dict(Counter(rep.exercise_id for rep in reps if rep.verdict == "counted")),
        dict(Counter(rep.exercise_id for rep in reps)),
        pain,
        min(pain, 1),
        tuple(reps),
        frozenset(tired),
        **extra,
    )


def held(order: Prescription, sessions: list[PastSession], last: PastSession, exercise: AnyExercise) -> bool:
    """By the words of the order: pain within the calm sessions, or a tired muscle or an unreadable signal the last
    time."""
    calm = sessions[-order.stop.calm_sessions :]
    if any((one.highest_pain or 0) >= order.stop.pain_lighten for one in calm):
        return True
    return exercise.id in last.tired or any(
        rep.exercise_id == exercise.id and rep.verdict == "unreadable" for rep in last.reps
    )


def judge(order: Prescription, sessions: list[PastSession], plan: Any, found: Counter[str]) -> None:
    """Count what the plan does that it must not, exercise by exercise."""
    told = {change.title: change.reason for change in plan.changes}
    for planned in plan.exercises:
        exercise = next(one for one in order.exercises if one.id == planned.exercise_id)
        done = [one for one in sessions if one.attempts.get(exercise.id)]
        if not done:
            continue
        last = [rep for rep in done[-1].reps if rep.exercise_id == exercise.id][-1]
        was = getattr(done[-1], "left_at", {}).get(exercise.id, last.target_pct_mvc)
        found["settings looked at"] += 1
        up = (planned.target_pct_mvc - was) * (-1 if isinstance(exercise, Relax) else 1)
        narrower = last.tolerance_pct_mvc - planned.tolerance_pct_mvc
        if up > exercise.scaling.step_pct_mvc + 1e-6:
            found["rose beyond the step"] += 1
        if (up > 1e-6 or narrower > 1e-6) and held(order, sessions, done[-1], exercise):
            found["got harder while held"] += 1
        word = told.get(planned.title)
        if (word == "harder" and (up < -1e-6 or narrower < -1e-6)) or (
            word in ("easier", "pain") and (up > 1e-6 or narrower > 1e-6)
        ):
            found["told the opposite"] += 1
        if not exercise.effort.min_pct_mvc - 1e-6 <= planned.target_pct_mvc <= exercise.effort.max_pct_mvc + 1e-6:
            found["outside the order"] += 1


def count(pasts: int, seed: int = 1) -> Counter[str]:
    """Faults in this many pasts of up to eight sessions each, every one planned by the program itself."""
    found: Counter[str] = Counter()
    for number in range(pasts):
        chance = random.Random(f"{seed}-{number}")
        order, sessions = an_order(chance), list[PastSession]()
        rests: dict[str, float] = {}
        for day in range(chance.randint(2, 8)):
            plan = plan_today(order, History(tuple(sessions)), now=START + timedelta(days=day))
            judge(order, sessions, plan, found)
            rests = rests | {move.exercise_id: move.rest_to_s for move in plan.scaling}
            sessions.append(replace(played(order, plan.exercises, day, rests, chance)))
        found["pasts"] += 1
    return found


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    for name, number in sorted(count(wanted).items()):
        print(f"{name:24} {number}")
