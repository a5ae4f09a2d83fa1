"""What the program may move by itself, within the therapist's bounds, and why.

Effort, tolerance and pace move together along one path: from the easiest that is allowed (level 0) over the order itself
(0.5) to the hardest (1). The skill model says which level would succeed as often as the therapist wants. Never above the
ceiling, never up after pain, fatigue or an unreadable signal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from musclewood.profiles.journal.history import SESSIONS_FOR_SCALING, PastSession
from musclewood.profiles.journal.records import ScalingRecord
from musclewood.profiles.orders.exercises import AnyExercise, Relax
from musclewood.profiles.orders.tables import StopRules
from musclewood.profiles.plan.safety import pain_says_lighten
from musclewood.profiles.plan.skill import SkillModel
from numpy.typing import NDArray

_GRID = np.linspace(0.0, 1.0, 201)
# Smaller moves than these are not worth a word to anybody. Our choice.
WORTH_MOVING_PCT_MVC = 0.5
WORTH_MOVING_S = 0.5
# What the patient is told, by reason; screens say it in their own language under `today.scaled`.
PATIENT_SENTENCES = {
    "harder": "It goes well: a little harder today.",
    "easier": "A little easier today, so that more succeeds.",
    "pain": "Easier today, because of the pain.",
}


@dataclass(frozen=True)
class Setting:
    """What can be moved of an exercise."""

    target_pct_mvc: float
    tolerance_pct_mvc: float
    rest_s: float


@dataclass(frozen=True)
class Scaled:
    """The setting for the next session; `record` says what was moved and why, None if nothing was."""

    setting: Setting
    level: float
    record: ScalingRecord | None = None


def as_ordered(exercise: AnyExercise) -> Setting:
    return Setting(exercise.effort.target_pct_mvc, exercise.effort.tolerance_pct_mvc, exercise.rest_s)


def at_level(exercise: AnyExercise, level: float) -> Setting:
    """The setting at a level; 0.5 is the order. Relaxing gets harder as the target falls."""
    effort, bounds = exercise.effort, exercise.scaling
    easy, hard = effort.min_pct_mvc, effort.max_pct_mvc
    if isinstance(exercise, Relax):
        easy, hard = hard, easy
    tolerance = effort.tolerance_pct_mvc
    wide = tolerance if bounds.tolerance_max_pct_mvc is None else bounds.tolerance_max_pct_mvc
    narrow = tolerance if bounds.tolerance_min_pct_mvc is None else bounds.tolerance_min_pct_mvc
    longest = exercise.rest_s if bounds.rest_max_s is None else bounds.rest_max_s
    return Setting(
        target_pct_mvc=_between(level, easy, effort.target_pct_mvc, hard),
        tolerance_pct_mvc=_between(level, wide, tolerance, narrow),
        rest_s=_between(level, longest, exercise.rest_s, exercise.rest_s),
    )


def _between(level: float, easy: float, ordered: float, hard: float) -> float:
    return float(np.interp(level, (0.0, 0.5, 1.0), (easy, ordered, hard)))


@lru_cache(maxsize=64)
def _path(exercise: AnyExercise) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Target and tolerance at every level of the grid."""
    settings = [at_level(exercise, float(level)) for level in _GRID]
    targets = np.array([setting.target_pct_mvc for setting in settings])
    return targets, np.array([setting.tolerance_pct_mvc for setting in settings])


def level_of(exercise: AnyExercise, target_pct_mvc: float, tolerance_pct_mvc: float) -> float:
    """The level whose setting comes nearest to what was asked for in a rep."""
    effort = exercise.effort
    targets, tolerances = _path(exercise)
    span = max(effort.max_pct_mvc - effort.min_pct_mvc, 1.0)
    away = np.abs(targets - target_pct_mvc) / span + np.abs(tolerances - tolerance_pct_mvc) / effort.tolerance_pct_mvc
    # Of several that come equally near (bounds that leave no room), the one nearest to the order.
    return float(_GRID[np.lexsort((np.abs(_GRID - 0.5), np.round(away, 9)))[0]])


def learn(exercise: AnyExercise, sessions: Sequence[PastSession]) -> SkillModel:
    """The skill model after these sessions, the oldest first. Unreadable reps tell nothing about skill."""
    model = SkillModel(exercise.scaling.success_target)
    for session in sessions:
        model.rest()
        tallies: dict[tuple[float, float], list[int]] = {}
        for rep in session.reps:
            if rep.exercise_id == exercise.id and rep.verdict != "unreadable":
                tally = tallies.setdefault((rep.target_pct_mvc, rep.tolerance_pct_mvc), [0, 0])
                tally[rep.verdict != "counted"] += 1
        for (target, tolerance), (made, missed) in tallies.items():
            model.tell(level_of(exercise, target, tolerance), made, missed)
    return model


def scale(exercise: AnyExercise, sessions: Sequence[PastSession], rules: StopRules) -> Scaled:
    """The next session's setting from the sessions under the same order, the oldest first."""
    ordered = as_ordered(exercise)
    done = [session for session in sessions if any(rep.exercise_id == exercise.id for rep in session.reps)]
    if not done:
        return Scaled(ordered, 0.5)
    before = _last_setting(exercise, done[-1])
    level_before = level_of(exercise, before.target_pct_mvc, before.tolerance_pct_mvc)
    if sessions and pain_says_lighten(sessions[-1], rules):
        return _lightened(exercise, before, level_before, rules)
    if not exercise.scaling.on:
        return Scaled(ordered, 0.5)
    model = learn(exercise, done[-SESSIONS_FOR_SCALING:])
    wanted = _within_step(exercise, level_before, model.ask())
    reason = held_because(exercise, sessions, done[-1], rules)
    if reason and wanted > level_before:
        return Scaled(before, level_before)
    after = at_level(exercise, wanted)
    if not _worth_moving(before, after):
        return Scaled(before, level_before)
    return Scaled(after, wanted, _moved(exercise, before, after, model.predict(level_before)))


def held_because(
    exercise: AnyExercise, sessions: Sequence[PastSession], last: PastSession, rules: StopRules
) -> str | None:
    """Why nothing may get harder now, as a plain sentence; None if it may."""
    if any(pain_says_lighten(session, rules) for session in sessions[-rules.calm_sessions :]):
        return "There was pain lately."
    if exercise.id in last.tired or last.declines.get(exercise.id, 0.0) >= rules.fatigue_decline_pct:
        return "The muscle was tired last time."
    if any(rep.exercise_id == exercise.id and rep.verdict == "unreadable" for rep in last.reps):
        return "The signal could not be read all the time."
    return None


def _last_setting(exercise: AnyExercise, session: PastSession) -> Setting:
    last = [rep for rep in session.reps if rep.exercise_id == exercise.id][-1]
    level = level_of(exercise, last.target_pct_mvc, last.tolerance_pct_mvc)
    return Setting(last.target_pct_mvc, last.tolerance_pct_mvc, at_level(exercise, level).rest_s)


def _within_step(exercise: AnyExercise, before: float, wanted: float) -> float:
    """Towards `wanted`, but no further than the target may move in one session."""
    targets, _ = _path(exercise)
    last = at_level(exercise, before).target_pct_mvc
    allowed = _GRID[np.abs(targets - last) <= exercise.scaling.step_pct_mvc + 1e-9]
    return float(np.clip(wanted, min(before, allowed.min()), max(before, allowed.max()))) if len(allowed) else before


def _lightened(exercise: AnyExercise, before: Setting, level: float, rules: StopRules) -> Scaled:
    """Less effort after pain, down to the therapist's minimum. Relaxing asks for no effort and stays as it is."""
    effort = exercise.effort
    if isinstance(exercise, Relax):
        return Scaled(before, level)
    target = max(effort.min_pct_mvc, min(before.target_pct_mvc, effort.max_pct_mvc) * (1 - rules.lighten_pct / 100))
    after = Setting(target, before.tolerance_pct_mvc, before.rest_s)
    if target >= before.target_pct_mvc:
        return Scaled(after, level)
    therapist = (
        f"Pain reached the level to go easier ({rules.pain_lighten}): target lowered by {rules.lighten_pct:g} %, "
        f"not below {effort.min_pct_mvc:g} %MVC."
    )
    return Scaled(after, level, _record(exercise, before, after, None, PATIENT_SENTENCES["pain"], therapist))


def _worth_moving(before: Setting, after: Setting) -> bool:
    return (
        abs(after.target_pct_mvc - before.target_pct_mvc) >= WORTH_MOVING_PCT_MVC
        or abs(after.tolerance_pct_mvc - before.tolerance_pct_mvc) >= WORTH_MOVING_PCT_MVC
        or abs(after.rest_s - before.rest_s) >= WORTH_MOVING_S
    )


def _moved(exercise: AnyExercise, before: Setting, after: Setting, predicted: float) -> ScalingRecord:
    aim = exercise.scaling.success_target
    harder = predicted > aim
    patient = PATIENT_SENTENCES["harder" if harder else "easier"]
    therapist = (
        f"Success predicted at the last setting {100 * predicted:.0f} %, aimed at {100 * aim:.0f} %: "
        f"made {'harder' if harder else 'easier'}, within {exercise.effort.min_pct_mvc:g} to "
        f"{exercise.effort.max_pct_mvc:g} %MVC."
    )
    return _record(exercise, before, after, predicted, patient, therapist)


def _record(
    exercise: AnyExercise, before: Setting, after: Setting, predicted: float | None, patient: str, therapist: str
) -> ScalingRecord:
    return ScalingRecord(
        exercise.id,
        before.target_pct_mvc,
        after.target_pct_mvc,
        before.tolerance_pct_mvc,
        after.tolerance_pct_mvc,
        before.rest_s,
        after.rest_s,
        predicted,
        patient,
        therapist,
    )
