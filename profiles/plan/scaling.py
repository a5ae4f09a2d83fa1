"""What the program may move by itself, within the therapist's bounds, and why.

Effort, tolerance and pace move together along one path: from the easiest that is allowed (level 0) over the order
itself (0.5) to the hardest (1). The skill model says which level would succeed as often as the therapist wants. Never
above the ceiling, never up after pain, fatigue or an unreadable signal.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from musclewood.profiles.journal.history import SESSIONS_FOR_SCALING, PastSession
from musclewood.profiles.journal.records import ScalingRecord
from musclewood.profiles.orders.exercises import AnyExercise
from musclewood.profiles.plan.reasons import Change
from musclewood.profiles.plan.safety import Restraint
from musclewood.profiles.plan.skill import SkillModel
from numpy.typing import NDArray

_GRID = np.linspace(0.0, 1.0, 201)
# Smaller moves than these are not worth a word to anybody. Our choice.
WORTH_MOVING_PCT_MVC = 0.5
WORTH_MOVING_S = 0.5


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
    record: ScalingRecord | None = None


def as_ordered(exercise: AnyExercise) -> Setting:
    return Setting(exercise.effort.target_pct_mvc, exercise.effort.band_pct_mvc, exercise.rest_s)


def at_level(exercise: AnyExercise, level: float) -> Setting:
    """The setting at a level; 0.5 is the order. Relaxing gets harder as the target falls."""
    effort, bounds = exercise.effort, exercise.scaling
    easy, hard = effort.min_pct_mvc, effort.max_pct_mvc
    if exercise.traits.harder < 0:
        easy, hard = hard, easy
    wide = narrow = tolerance = effort.band_pct_mvc
    if not effort.at_least:
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
    """The skill model after these sessions, the oldest first. Unreadable reps tell nothing about skill.

    Those done without seeing the effort are harder in another way; `plan/unseen.py` judges them apart.
    """
    model = SkillModel(exercise.scaling.success_target)
    for session in sessions:
        model.rest()
        tallies: dict[tuple[float, float], list[int]] = {}
        for rep in session.reps:
            if rep.exercise_id == exercise.id and rep.verdict != "unreadable" and not rep.unseen:
                tally = tallies.setdefault((rep.target_pct_mvc, rep.tolerance_pct_mvc), [0, 0])
                tally[rep.verdict != "counted"] += 1
        for (target, tolerance), (made, missed) in tallies.items():
            model.tell(level_of(exercise, target, tolerance), made, missed)
    return model


def scale(exercise: AnyExercise, sessions: Sequence[PastSession], past: Restraint) -> Scaled:
    """The next session's setting from the sessions under the same order, the oldest first.

    Steps are counted from what was asked for last, wherever easing or pain had moved it. Effort, tolerance and rest
    move one way or not at all, so that one word is true of the move; while `past` holds the exercise, nothing gets
    harder.
    """
    ordered = as_ordered(exercise)
    done = [session for session in sessions if any(rep.exercise_id == exercise.id for rep in session.reps)]
    if not done:
        return Scaled(ordered)
    before = last_asked(exercise, done)
    if past.lighten:
        return _lightened(exercise, before, past.lighten)
    predicted: float | None = None
    wanted = 0.5
    if exercise.scaling.on:
        model = learn(exercise, done[-SESSIONS_FOR_SCALING:])
        predicted, wanted = model.predict(_level_asked(exercise, before)), model.ask()
    after = _towards(exercise, before, wanted)
    way = _way(exercise, before, after)
    surprising = predicted is not None and (predicted - exercise.scaling.success_target) * way < 0
    if way == 0 or surprising or (way > 0 and past.held):
        return Scaled(before)
    return Scaled(after, _moved(exercise, before, after, predicted, harder=way > 0))


def last_asked(exercise: AnyExercise, done: Sequence[PastSession]) -> Setting:
    """What the exercise asked for last, in the sessions in which it was tried: never harder than its bounds."""
    last = [rep for rep in done[-1].reps if rep.exercise_id == exercise.id][-1]
    rests = (session.rests[exercise.id] for session in reversed(done) if exercise.id in session.rests)
    return Setting(
        done[-1].left_at.get(exercise.id, last.target_pct_mvc),
        last.tolerance_pct_mvc,
        max(exercise.rest_s, next(rests, exercise.rest_s)),
    )


def _level_asked(exercise: AnyExercise, setting: Setting) -> float:
    return level_of(exercise, setting.target_pct_mvc, setting.tolerance_pct_mvc)


def _towards(exercise: AnyExercise, before: Setting, wanted: float) -> Setting:
    """The setting at the level wanted, or as near to it as one step of the target leads; all of it moved one way."""
    step, asked = exercise.scaling.step_pct_mvc, at_level(exercise, wanted)
    if abs(asked.target_pct_mvc - before.target_pct_mvc) > step:
        edge = before.target_pct_mvc + (step if asked.target_pct_mvc > before.target_pct_mvc else -step)
        asked = replace(at_level(exercise, _level_of_target(exercise, edge)), target_pct_mvc=edge)
    way = _sign(exercise, before, asked)
    kept = [
        new if way * harder * (new - old) >= 0 else old
        for new, old, harder in zip(_figures(asked), _figures(before), _harder(exercise), strict=True)
    ]
    return Setting(*kept)


def _level_of_target(exercise: AnyExercise, target_pct_mvc: float) -> float:
    """The level at which the path has this target."""
    effort, sign = exercise.effort, _harder(exercise)[0]
    easy, hard = (effort.min_pct_mvc, effort.max_pct_mvc)[:: int(sign)]
    return float(np.interp(sign * target_pct_mvc, sign * np.array([easy, effort.target_pct_mvc, hard]), (0, 0.5, 1)))


def _figures(setting: Setting) -> tuple[float, float, float]:
    return setting.target_pct_mvc, setting.tolerance_pct_mvc, setting.rest_s


def _harder(exercise: AnyExercise) -> tuple[float, float, float]:
    """Which way target, tolerance and rest go when an exercise gets harder. Relaxing gets
    harder as its target falls."""
    return float(exercise.traits.harder), -1.0, -1.0


def _sign(exercise: AnyExercise, before: Setting, after: Setting) -> int:
    """1 where the first of target, tolerance and rest that differs got harder, -1 where easier,
    0 where none differs."""
    for new, old, harder in zip(_figures(after), _figures(before), _harder(exercise), strict=True):
        if abs(new - old) > 1e-9:
            return 1 if harder * (new - old) > 0 else -1
    return 0


def _way(exercise: AnyExercise, before: Setting, after: Setting) -> int:
    """Whether a move made the exercise harder (1) or easier (-1); 0 for one that is not worth a word."""
    return _sign(exercise, before, after) if _worth_moving(before, after) else 0


def _lightened(exercise: AnyExercise, before: Setting, lighten_pct: float) -> Scaled:
    """Less effort after pain, down to the therapist's minimum. Relaxing asks for no effort and stays as it is."""
    effort = exercise.effort
    target = max(effort.min_pct_mvc, before.target_pct_mvc * (1 - lighten_pct / 100))
    if exercise.traits.still or target >= before.target_pct_mvc:
        return Scaled(before)
    after = replace(before, target_pct_mvc=target)
    therapist = (
        f"Pain reached the level to go easier: target lowered by {lighten_pct:g} %, not below "
        f"{effort.min_pct_mvc:g} %MVC."
    )
    return Scaled(after, _record(exercise, before, after, None, Change.PAIN, therapist))


def _worth_moving(before: Setting, after: Setting) -> bool:
    return (
        abs(after.target_pct_mvc - before.target_pct_mvc) >= WORTH_MOVING_PCT_MVC
        or abs(after.tolerance_pct_mvc - before.tolerance_pct_mvc) >= WORTH_MOVING_PCT_MVC
        or abs(after.rest_s - before.rest_s) >= WORTH_MOVING_S
    )


def _moved(
    exercise: AnyExercise, before: Setting, after: Setting, predicted: float | None, *, harder: bool
) -> ScalingRecord:
    effort, word = exercise.effort, Change.HARDER if harder else Change.EASIER
    bounds = f"within {effort.min_pct_mvc:g} to {effort.max_pct_mvc:g} %MVC"
    if predicted is None:
        therapist = f"Back towards the order, a step at a time: made {word}, {bounds}."
    else:
        therapist = (
            f"Success predicted at the last setting {100 * predicted:.0f} %, aimed at "
            f"{100 * exercise.scaling.success_target:.0f} %: made {word}, {bounds}."
        )
    return _record(exercise, before, after, predicted, word, therapist)


def _record(
    exercise: AnyExercise, before: Setting, after: Setting, predicted: float | None, why: Change, therapist: str
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
        why.value,
        therapist,
    )
