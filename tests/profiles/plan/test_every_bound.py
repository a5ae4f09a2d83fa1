"""Random pasts that lead to the very edge of each bound of an order: today's plan stays within, and a bound that is off
by one is seen.

A search among any pasts comes upon a bound by luck. Here every bound has a way of its own to be reached, whatever else
happened before; a breach is planted by planning for an order that is looser by the least that counts, and must be found
from any seed.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import pytest
from musclewood.profiles.journal.history import History, PastRep, PastSession
from musclewood.profiles.journal.records import SessionEnd, SessionStart
from musclewood.profiles.orders.exercises import AnyExercise, Relax, reps_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template, template_names
from musclewood.profiles.plan.dose import DayPlan, plan_today

NOW = datetime(2026, 12, 9, 15, 0, tzinfo=UTC)  # a Wednesday
CASES = 3


class Case(NamedTuple):
    order: Prescription
    sessions: tuple[PastSession, ...]
    now: datetime = NOW

    def plan(self) -> DayPlan:
        numbered = tuple(replace(one, session_id=number) for number, one in enumerate(self.sessions, 1))
        return plan_today(self.order, History(numbered), now=self.now)

    def but(self, **changes: Any) -> Case:
        """The order otherwise."""
        return self._replace(order=self.order.model_copy(update=changes))

    def with_ceilings(self, **changes: Any) -> Case:
        return self.but(ceilings=self.order.ceilings.model_copy(update=changes))

    def with_stop(self, **changes: Any) -> Case:
        return self.but(stop=self.order.stop.model_copy(update=changes))

    def with_exercises(self, change: Callable[[AnyExercise], dict[str, Any]]) -> Case:
        return self.but(exercises=tuple(one.model_copy(update=change(one)) for one in self.order.exercises))

    def last(self, **changes: Any) -> Case:
        return self._replace(sessions=(*self.sessions[:-1], replace(self.sessions[-1], **changes)))


# --- any past -----------------------------------------------------------------------------------------------------
def session(
    order: Prescription, ago: timedelta, share: float, target: Callable[[AnyExercise], float], **more: Any
) -> PastSession:
    """A calm and complete one: so much of each exercise's reps counted, all attempts at this target."""
    started = NOW - ago
    tried = {one.id: reps_of(one) for one in order.exercises}
    made = {one.id: round(share * reps_of(one)) for one in order.exercises}
    reps = tuple(
        PastRep(one.id, "counted" if number < made[one.id] else "weak", target(one), one.effort.tolerance_pct_mvc)
        for one in order.exercises
        for number in range(tried[one.id])
    )
    minutes = more.pop("minutes", 11.0)
    end = SessionEnd((started + timedelta(minutes=minutes)).isoformat(), more.pop("ending", "complete"))
    start = SessionStart("HB-0042", order.revision, "ble", started.isoformat(), order.timezone or "UTC")
    return PastSession(1, start, end, made, tried, 0, 0, reps, **more)


def any_past(chance: random.Random, share: float | None = None, at: str = "target_pct_mvc") -> Case:
    """An order without narrow ceilings, and some calm weeks under it, none of them in this one."""
    order = template(chance.choice(template_names()))
    order = order.model_copy(
        update={
            "days": DAYS,
            "sessions_per_day": 9,
            "hours_between_sessions": 0,
            "issued": NOW.date() - timedelta(days=40),
        }
    )
    wide = {"reps_per_day": 2000, "reps_per_week": 10_000, "minutes_per_day": 240.0, "sessions_per_week": 28}
    days = sorted(chance.sample(range(3, 30), chance.randint(4, 9)), reverse=True)
    done = [
        session(
            order, timedelta(days=day), chance.random() if share is None else share, lambda one: getattr(one.effort, at)
        )
        for day in days
    ]
    return Case(order, tuple(done)).with_ceilings(**wide)


def trained_today(chance: random.Random) -> Case:
    """The same, and one or two whole sessions today, five hours ago the latest."""
    case = any_past(chance)
    today = [
        session(case.order, timedelta(hours=hours), chance.random(), lambda one: one.effort.target_pct_mvc)
        for hours in (8, 5)[chance.randrange(2) :]
    ]
    return case._replace(sessions=(*case.sessions, *today))


def tried(case: Case, *, days: int) -> int:
    """Attempts of the last so many days; a week begins on Monday, two days ago."""
    since = NOW.replace(hour=0) - timedelta(days=days - 1)
    return sum(sum(one.attempts.values()) for one in case.sessions if one.started >= since)


# --- the bounds: how each is reached, and how an order is looser than it ------------------------------------------
Reach = Callable[[random.Random], Case]
Loosen = Callable[[Case], Case]
BOUNDS: dict[str, tuple[Reach, Loosen]] = {}


def bound(name: str, loosen: Loosen) -> Callable[[Reach], Reach]:
    def keep(reach: Reach) -> Reach:
        BOUNDS[name] = reach, loosen
        return reach

    return keep


@bound("reps a day", lambda case: case.with_ceilings(reps_per_day=case.order.ceilings.reps_per_day + 1))
def _(chance: random.Random) -> Case:
    case = trained_today(chance)
    return case.with_ceilings(reps_per_day=tried(case, days=1) + chance.randint(0, 12))


@bound("reps a week", lambda case: case.with_ceilings(reps_per_week=case.order.ceilings.reps_per_week + 1))
def _(chance: random.Random) -> Case:
    case = trained_today(chance)
    return case.with_ceilings(reps_per_week=tried(case, days=3) + chance.randint(0, 12))


@bound("minutes a day", lambda case: case.with_ceilings(minutes_per_day=case.order.ceilings.minutes_per_day + 1))
def _(chance: random.Random) -> Case:
    case = trained_today(chance)
    spent = sum(one.minutes for one in case.sessions if one.started > NOW - timedelta(hours=9))
    return case.with_ceilings(minutes_per_day=spent + chance.choice((0.0, 0.0, 7.5)))


@bound("sessions a day", lambda case: case.but(sessions_per_day=case.order.sessions_per_day + 1))
def _(chance: random.Random) -> Case:
    case = trained_today(chance)
    return case.but(sessions_per_day=sum(one.started > NOW - timedelta(hours=9) for one in case.sessions))


@bound("sessions a week", lambda case: case.with_ceilings(sessions_per_week=case.order.ceilings.sessions_per_week + 1))
def _(chance: random.Random) -> Case:
    case = trained_today(chance)
    return case.with_ceilings(sessions_per_week=sum(one.started > NOW - timedelta(hours=9) for one in case.sessions))


@bound("hours between", lambda case: case.but(hours_between_sessions=case.order.hours_between_sessions - 1))
def _(chance: random.Random) -> Case:
    hours = chance.randint(2, 5)
    case = trained_today(chance).but(hours_between_sessions=hours)
    return case._replace(now=case.sessions[-1].ended + timedelta(hours=hours, seconds=-chance.randint(1, 3000)))


@bound("pain that stops", lambda case: case.with_stop(pain_stop=case.order.stop.pain_stop + 1))
def _(chance: random.Random) -> Case:
    case = trained_today(chance)
    return case.last(highest_pain=case.order.stop.pain_stop, first_pain=case.order.stop.pain_stop)


@bound("pain that rises", lambda case: case.with_stop(pain_rise_stop=case.order.stop.pain_rise_stop + 1))
def _(chance: random.Random) -> Case:
    case = trained_today(chance).with_stop(pain_stop=9)
    first = chance.randint(0, 4)
    return case.last(highest_pain=first + case.order.stop.pain_rise_stop, first_pain=first)


@bound("first day", lambda case: case.but(issued=case.order.issued - timedelta(days=1)))
def _(chance: random.Random) -> Case:
    return any_past(chance)._replace(sessions=()).but(issued=NOW.date() + timedelta(days=1))


@bound("last day", lambda case: case.but(expires=case.order.expires + timedelta(days=1)))
def _(chance: random.Random) -> Case:
    return any_past(chance).but(expires=NOW.date() - timedelta(days=1))


@bound("days of the week", lambda case: case.but(days=(*case.order.days, "wed")))
def _(chance: random.Random) -> Case:
    return any_past(chance).but(days=tuple(chance.sample([day for day in DAYS if day != "wed"], chance.randint(1, 5))))


@bound("reps a set", lambda case: case.with_exercises(lambda one: {"reps": one.reps + 1}))
def _(chance: random.Random) -> Case:
    return any_past(chance)


@bound("sets", lambda case: case.with_exercises(lambda one: {"sets": one.sets + 1}))
def _(chance: random.Random) -> Case:
    return any_past(chance)


@bound("what is left of a session", lambda case: case.last(counted={}))
def _(chance: random.Random) -> Case:
    case = trained_today(chance)
    return case.last(
        end=replace(case.sessions[-1].end, ending="stopped"), counted=dict.fromkeys(case.sessions[-1].counted, 1)
    )


@bound("rest", lambda case: case.with_exercises(lambda one: {"rest_s": one.rest_s - 0.5}))
def _(chance: random.Random) -> Case:
    """Nobody who misses: a rest that was made longer hides one that is too short."""
    return any_past(chance, share=1.0)


@bound("rest between sets", lambda case: case.with_exercises(lambda one: {"set_rest_s": one.set_rest_s - 0.5}))
def _(chance: random.Random) -> Case:
    return any_past(chance)


def _effort(key: str, by: float) -> Loosen:
    return lambda case: case.with_exercises(
        lambda one: {"effort": one.effort.model_copy(update={key: getattr(one.effort, key) + by})}
    )


@bound("hardest target", lambda case: _effort("max_pct_mvc", 2.0)(_effort("min_pct_mvc", -1.5)(case)))
def _(chance: random.Random) -> Case:
    """Whoever succeeds at the hardest that is allowed; for relaxing that is the lowest."""
    case = any_past(chance, share=1.0)
    hardest = "max_pct_mvc" if case.order.exercises[0].traits.harder > 0 else "min_pct_mvc"
    only = case.but(exercises=case.order.exercises[:1])
    reps = [
        session(only.order, NOW - one.started, 1.0, lambda one: getattr(one.effort, hardest)) for one in only.sessions
    ]
    return only._replace(sessions=tuple(reps))


@bound("easiest target", lambda case: _effort("max_pct_mvc", 2.0)(_effort("min_pct_mvc", -1.5)(case)))
def _(chance: random.Random) -> Case:
    case = any_past(chance, share=0.0)
    easiest = "min_pct_mvc" if case.order.exercises[0].traits.harder > 0 else "max_pct_mvc"
    only = case.but(exercises=case.order.exercises[:1])
    reps = [
        session(only.order, NOW - one.started, 0.0, lambda one: getattr(one.effort, easiest)) for one in only.sessions
    ]
    return only._replace(sessions=tuple(reps))


@bound("effort ceiling", _effort("ceiling_pct_mvc", 1.0))
def _(chance: random.Random) -> Case:
    return any_past(chance)


@bound(
    "step",
    lambda case: case.with_exercises(
        lambda one: {"scaling": one.scaling.model_copy(update={"step_pct_mvc": one.scaling.step_pct_mvc + 0.5})}
    ),
)
def _(chance: random.Random) -> Case:
    """Whoever succeeds at the easiest, with a small step."""
    case = any_past(chance, share=1.0, at="min_pct_mvc")
    return case.with_exercises(lambda one: {"scaling": one.scaling.model_copy(update={"step_pct_mvc": 1.0})})


def _willing(chance: random.Random) -> Case:
    """Nothing but successes: the next session would be harder."""
    return any_past(chance, share=1.0)


@bound("pain that lightens", lambda case: case.with_stop(pain_lighten=case.order.stop.pain_lighten + 1))
def _(chance: random.Random) -> Case:
    case = _willing(chance).with_stop(pain_stop=9)
    return case.last(highest_pain=case.order.stop.pain_lighten, first_pain=case.order.stop.pain_lighten)


@bound("calm sessions", lambda case: case.with_stop(calm_sessions=case.order.stop.calm_sessions - 1))
def _(chance: random.Random) -> Case:
    case = _willing(chance).with_stop(pain_stop=9, calm_sessions=chance.randint(2, 4))
    pain, at = case.order.stop.pain_lighten, len(case.sessions) - case.order.stop.calm_sessions
    hurt = replace(case.sessions[at], highest_pain=pain, first_pain=pain)
    return case._replace(sessions=(*case.sessions[:at], hurt, *case.sessions[at + 1 :]))


@bound("fatigue", lambda case: case.with_stop(fatigue_decline_pct=case.order.stop.fatigue_decline_pct + 0.5))
def _(chance: random.Random) -> Case:
    case = _willing(chance)
    return case.last(declines={one.id: case.order.stop.fatigue_decline_pct for one in case.order.exercises})


@bound("a set cut short", lambda case: case.last(tired=frozenset()))
def _(chance: random.Random) -> Case:
    case = _willing(chance)
    return case.last(tired=frozenset(one.id for one in case.order.exercises))


@bound(
    "an unreadable signal",
    lambda case: case.last(reps=tuple(one for one in case.sessions[-1].reps if one.verdict == "counted")),
)
def _(chance: random.Random) -> Case:
    case = _willing(chance)
    lost = tuple(replace(case.sessions[-1].reps[-1], exercise_id=one.id, verdict="unreadable",
                         target_pct_mvc=one.effort.target_pct_mvc) for one in case.order.exercises)  # fmt: skip
    return case.last(reps=(*case.sessions[-1].reps, *lost))


# --- what a plan goes beyond, reckoned without the plan's help ----------------------------------------------------
def gone_beyond(case: Case, plan: DayPlan) -> set[str]:
    if not plan.exercises:
        return set()
    order, ceilings, stop = case.order, case.order.ceilings, case.order.stop
    zone = ZoneInfo(order.timezone or "UTC")
    day = case.now.astimezone(zone).date()
    monday = day - timedelta(days=day.weekday())
    of_day = [one for one in case.sessions if one.day(zone) == day]
    of_week = [one for one in case.sessions if monday <= one.day(zone) <= day]
    attempts = sum(one.most_attempts for one in plan.exercises)
    whole = [one for one in of_week if one.end and one.end.ending == "complete"]
    minutes = ceilings.minutes_per_day - sum(one.minutes for one in of_day)
    wrong = {
        "reps a day": attempts + _tries(of_day) > ceilings.reps_per_day,
        "reps a week": attempts + _tries(of_week) > ceilings.reps_per_week,
        "minutes a day": minutes <= 0 or (plan.minutes or 0.0) > minutes + 1e-9,
        "sessions a day": sum(one in of_day for one in whole) >= order.sessions_per_day,
        "sessions a week": len(whole) >= ceilings.sessions_per_week,
        "hours between": bool(case.sessions)
        and case.now < case.sessions[-1].ended + timedelta(hours=order.hours_between_sessions),
        "pain that stops": any((one.highest_pain or 0) >= stop.pain_stop for one in of_day),
        "pain that rises": any(
            (one.highest_pain or 0) - (one.first_pain or 0) >= stop.pain_rise_stop for one in of_day
        ),
        "first day": day < order.issued,
        "last day": order.expires is not None and day > order.expires,
        "days of the week": DAYS[day.weekday()] not in order.days,
    }
    for planned in plan.exercises:
        wrong |= {name: wrong.get(name, False) or so for name, so in _of_exercise(case, planned, of_day).items()}
    return {name for name, so in wrong.items() if so}


def _tries(sessions: list[PastSession]) -> int:
    return sum(sum(one.attempts.values()) for one in sessions)


def _of_exercise(case: Case, planned: Any, of_day: list[PastSession]) -> dict[str, bool]:
    order, stop = case.order, case.order.stop
    exercise = next(one for one in order.exercises if one.id == planned.exercise_id)
    effort, target = exercise.effort, planned.target_pct_mvc
    last = case.sessions[-1] if case.sessions else None
    going_on = last is not None and last in of_day and last.end is not None and last.end.ending == "stopped"
    left = reps_of(exercise) - (last.counted.get(exercise.id, 0) if last is not None and going_on else 0)
    asked = [one.target_pct_mvc for done in case.sessions for one in done.reps if one.exercise_id == exercise.id][-1:]
    upwards = -1.0 if isinstance(exercise, Relax) else 1.0
    rise = max((upwards * (target - one) for one in asked), default=0.0)
    harder = rise > 1e-9
    calm = case.sessions[-stop.calm_sessions :]
    return {
        "reps a set": planned.reps > exercise.reps,
        "sets": planned.sets > exercise.sets,
        "what is left of a session": planned.sets * planned.reps > left,
        "rest": planned.rest_s < exercise.rest_s,
        "rest between sets": planned.set_rest_s < exercise.set_rest_s,
        "hardest target": target * upwards > max(effort.min_pct_mvc * upwards, effort.max_pct_mvc * upwards) + 1e-9,
        "easiest target": target * upwards < min(effort.min_pct_mvc * upwards, effort.max_pct_mvc * upwards) - 1e-9,
        "effort ceiling": planned.ceiling_pct_mvc > effort.ceiling_pct_mvc or target > effort.ceiling_pct_mvc,
        "step": rise > exercise.scaling.step_pct_mvc + 1e-9,
        "pain that lightens": harder and last is not None and (last.highest_pain or 0) >= stop.pain_lighten,
        "calm sessions": harder and any((one.highest_pain or 0) >= stop.pain_lighten for one in calm),
        "fatigue": harder and last is not None and last.declines.get(exercise.id, 0.0) >= stop.fatigue_decline_pct,
        "a set cut short": harder and last is not None and exercise.id in last.tired,
        "an unreadable signal": harder
        and last is not None
        and any(one.exercise_id == exercise.id and one.verdict == "unreadable" for one in last.reps),
    }


def cases(name: str, seed: int, number: int) -> list[Case]:
    chance = random.Random(f"{name} {seed}")
    return [BOUNDS[name][0](chance) for _ in range(number)]


@pytest.mark.full_size
@pytest.mark.parametrize("name", BOUNDS)
def test_a_past_that_reaches_a_bound_leads_beyond_none(name: str, full: bool) -> None:
    for seed in range(200 if full else 1):
        for case in cases(name, seed, CASES):
            assert gone_beyond(case, case.plan()) == set()


@pytest.mark.full_size
@pytest.mark.parametrize("name", BOUNDS)
def test_a_bound_that_is_off_by_one_is_found_from_any_seed(name: str, full: bool) -> None:
    _, loosen = BOUNDS[name]
    for seed in range(50 if full else 1):
        found = set[str]()
        for case in cases(name, seed, CASES):
            found |= gone_beyond(case, loosen(case).plan())
        assert name in found, f"seed {seed}"
