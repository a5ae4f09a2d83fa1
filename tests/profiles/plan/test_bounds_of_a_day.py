"""At every bound of a day, on either side of it: what today may ask for, reckoned by hand.

A search among random pasts comes upon a bound by luck; here each is stood upon in every run. Bounds are the order's
own.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from musclewood.profiles.journal.history import History, PastRep, PastSession
from musclewood.profiles.journal.records import SessionEnd, SessionStart
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan.dose import _moved_clock_refusal, plan_today
from musclewood.profiles.plan.safety import pain_rule, restraint
from musclewood.profiles.plan.scaling import Setting, at_level, last_asked, level_of, scale

NOW = datetime(2026, 11, 26, 16, 0, tzinfo=UTC)  # a Thursday on which the order asks for a session
ALL = {"thigh-hold": 20, "thigh-quick": 16, "thigh-wave": 8}


@pytest.fixture
def order() -> Prescription:
    return template("weak-thigh-after-knee-operation")


def changed(order: Prescription, **ceilings: Any) -> Prescription:
    return order.model_copy(update={"ceilings": order.ceilings.model_copy(update=ceilings)})


def done(
    attempts: dict[str, int],
    counted: dict[str, int] | None = None,
    *,
    hours_ago: float = 5,
    minutes: float = 10,
    ending: Any = "complete",
    pain: int | None = None,
    first_pain: int | None = 0,
) -> PastSession:
    started = NOW - timedelta(hours=hours_ago)
    made = attempts if counted is None else counted
    reps = tuple(
        PastRep(name, "counted" if number < made.get(name, 0) else "weak", 35.0, 8.0)
        for name, tried in attempts.items()
        for number in range(tried)
    )
    return PastSession(
        1,
        SessionStart("HB-0042", 1, "ble", started.isoformat(), "Europe/Prague"),
        SessionEnd((started + timedelta(minutes=minutes)).isoformat(), ending),
        made,
        attempts,
        pain,
        first_pain,
        reps,
    )


def today(order: Prescription, *sessions: PastSession, now: datetime = NOW) -> Any:
    return plan_today(order, History(sessions), now=now)


def shares(plan: Any) -> list[tuple[int, int, int]]:
    return [(one.sets, one.reps, one.most_attempts) for one in plan.exercises]


def test_the_order_is_what_these_figures_assume(order: Prescription) -> None:
    assert [(one.id, one.sets, one.reps) for one in order.exercises] == [
        ("thigh-hold", 2, 10),
        ("thigh-quick", 2, 8),
        ("thigh-wave", 1, 8),
    ]


@pytest.mark.parametrize(
    ("ceiling", "expected", "shorter"),
    [
        (88, [(2, 10, 40), (2, 8, 32), (1, 8, 16)], False),  # all of it may be missed once
        (60, [(2, 10, 36), (2, 8, 16), (1, 8, 8)], False),  # what is spare goes to the first
        (44, [(2, 10, 20), (2, 8, 16), (1, 8, 8)], False),
        (43, [(2, 10, 20), (2, 8, 16), (1, 7, 7)], True),
        (37, [(2, 10, 20), (2, 8, 16), (1, 1, 1)], True),
        (36, [(2, 10, 20), (2, 8, 16)], True),
        (13, [(2, 6, 13)], True),  # sets as near to the ordered size as whole sets allow
        (10, [(1, 10, 10)], True),
        (1, [(1, 1, 1)], True),
    ],
)
@pytest.mark.parametrize("what", ["reps_per_day", "reps_per_week"])
def test_the_ceiling_is_shared_out_to_the_last_attempt(
    order: Prescription, what: str, ceiling: int, expected: list[tuple[int, int, int]], shorter: bool
) -> None:
    bounds = {"reps_per_day": 400, "reps_per_week": 2000} | {what: ceiling}
    plan = today(changed(order, **bounds))
    assert shares(plan) == expected
    assert sum(one.most_attempts for one in plan.exercises) <= ceiling
    assert ("shorter" in plan.reasons) is shorter


def test_a_ceiling_counts_what_was_tried_today_and_this_week(order: Prescription) -> None:
    some = done({"thigh-hold": 30}, {"thigh-hold": 5}, ending="stopped", hours_ago=8)
    two_days_ago = done({"thigh-hold": 30}, {"thigh-hold": 5}, ending="stopped", hours_ago=48)
    free = order.model_copy(update={"hours_between_sessions": 1})
    for ceiling, left in ((31, 1), (30, 0)):
        plan = today(changed(free, reps_per_day=ceiling, reps_per_week=2000), some)
        assert sum(one.most_attempts for one in plan.exercises) == left
        assert plan.reasons[0] == ("shorter" if left else "most")
        plan = today(changed(free, reps_per_day=400, reps_per_week=ceiling), two_days_ago)
        assert sum(one.most_attempts for one in plan.exercises) == left


def test_minutes_of_the_day_are_kept_to_the_last(order: Prescription) -> None:
    part = done({"thigh-hold": 8}, ending="stopped", minutes=20, hours_ago=8)
    free = order.model_copy(update={"hours_between_sessions": 1})
    plan = today(changed(free, minutes_per_day=20.5), part)
    assert plan.minutes == pytest.approx(0.5) and plan.exercises
    assert today(changed(free, minutes_per_day=20), part).reasons == ("minutes",)


def test_what_is_left_of_a_session_that_was_stopped(order: Prescription) -> None:
    part = done(
        {"thigh-hold": 14, "thigh-quick": 16}, {"thigh-hold": 13, "thigh-quick": 16}, ending="stopped", hours_ago=8
    )
    plan = today(order.model_copy(update={"hours_between_sessions": 1}), part)
    assert [(one.exercise_id, one.sets * one.reps) for one in plan.exercises] == [("thigh-hold", 7), ("thigh-wave", 8)]


def test_the_hours_between_sessions_end_to_the_second(order: Prescription) -> None:
    twice = order.model_copy(update={"sessions_per_day": 2, "hours_between_sessions": 4})
    first = done(ALL, hours_ago=5, minutes=10)
    ready = NOW - timedelta(hours=5) + timedelta(minutes=10, hours=4)
    early = today(twice, first, now=ready - timedelta(seconds=1))
    assert early.reasons == ("soon",) and early.not_before == ready
    assert today(twice, first, now=ready).exercises


def test_an_interrupted_session_goes_on_after_the_rest_between_sets(order: Prescription) -> None:
    part = done({"thigh-hold": 4}, ending="interrupted", hours_ago=1, minutes=10)
    rest = max(one.set_rest_s for one in order.exercises)
    ready = NOW - timedelta(minutes=50) + timedelta(seconds=rest)
    assert today(order, part, now=ready - timedelta(seconds=1)).reasons == ("still",)
    assert [one.sets * one.reps for one in today(order, part, now=ready).exercises] == [16, 16, 8]


@pytest.mark.parametrize(("field", "days", "why"), [("issued", 0, None), ("issued", 1, "later"), ("expires", 0, None)])
def test_first_and_last_day_belong_to_the_order(order: Prescription, field: str, days: int, why: str | None) -> None:
    dated = order.model_copy(update={field: NOW.date() + timedelta(days=days)})
    plan = today(dated)
    assert bool(plan.exercises) is (why is None) and (why is None or plan.reasons == (why,))


def test_the_day_after_the_last_and_after_the_review(order: Prescription) -> None:
    yesterday = NOW.date() - timedelta(days=1)
    assert today(order.model_copy(update={"expires": yesterday})).reasons == ("ended",)
    assert today(order.model_copy(update={"review": yesterday})).reasons == ("review",)
    assert today(order.model_copy(update={"review": NOW.date()})).reasons == ()


def test_pain_at_each_threshold_and_one_below(order: Prescription) -> None:
    rules = order.stop
    stop, rise = rules.pain_stop, rules.pain_rise_stop
    assert pain_rule(stop, stop, rules) == "level" and pain_rule(stop - 1, stop - 1, rules) is None
    assert pain_rule(stop - 1, stop - 1 - rise, rules) == ("rise" if stop - 1 >= rise else None)
    assert pain_rule(rise - 1, 0, rules) is None and pain_rule(min(rise, stop - 1), None, rules) is None


def test_the_pain_that_lightens_and_one_below(order: Prescription) -> None:
    rules = order.stop
    at = done({"thigh-hold": 20}, pain=rules.pain_lighten, first_pain=rules.pain_lighten)
    below = done({"thigh-hold": 20}, pain=rules.pain_lighten - 1, first_pain=rules.pain_lighten - 1)
    assert restraint("thigh-hold", [at], rules).lighten == rules.lighten_pct
    assert restraint("thigh-hold", [at], rules).held
    assert not restraint("thigh-hold", [below], rules).held and restraint("thigh-hold", [below], rules).lighten == 0
    calm = [below] * rules.calm_sessions
    assert restraint("thigh-hold", [at, *calm[:-1]], rules).held
    assert not restraint("thigh-hold", [at, *calm], rules).held
    assert not restraint("thigh-wave", [at], rules).held  # it was not tried: nothing is known of it


def test_fatigue_at_the_ordered_decline_and_below(order: Prescription) -> None:
    limit = order.stop.fatigue_decline_pct
    for decline, held in ((limit, True), (limit - 0.01, False)):
        session = replace(done({"thigh-hold": 20}), declines={"thigh-hold": decline})
        assert restraint("thigh-hold", [session], order.stop).held is held


def test_a_clock_that_was_moved_counts_from_the_first_day_on(order: Prescription) -> None:
    """The day of issue is a Wednesday, on which nothing is ordered; the day before nothing was in force."""
    assert _moved_clock_refusal(order, order.issued) == "clock-moved"
    assert _moved_clock_refusal(order, order.issued - timedelta(days=1)) is None
    assert _moved_clock_refusal(order, order.issued + timedelta(days=1)) is None


# --- what scaling may move ----------------------------------------------------------------------------------------
def free_to_move(order: Prescription) -> Any:
    hold = order.exercises[0]
    bounds = {"tolerance_min_pct_mvc": 4.0, "tolerance_max_pct_mvc": 12.0, "rest_max_s": 20.0, "step_pct_mvc": 10.0}
    return hold.model_copy(update={"scaling": hold.scaling.model_copy(update=bounds)})


def test_the_path_from_easiest_over_the_order_to_hardest(order: Prescription) -> None:
    hold = free_to_move(order)
    effort = hold.effort
    assert at_level(hold, 0.0) == Setting(effort.min_pct_mvc, 12.0, 20.0)
    assert at_level(hold, 0.5) == Setting(effort.target_pct_mvc, effort.tolerance_pct_mvc, hold.rest_s)
    assert at_level(hold, 1.0) == Setting(effort.max_pct_mvc, 4.0, hold.rest_s)
    assert at_level(hold, 0.25).rest_s == pytest.approx((20.0 + hold.rest_s) / 2)


def test_where_bounds_leave_no_room_every_level_is_the_order(order: Prescription) -> None:
    hold = order.exercises[0]
    target = hold.effort.target_pct_mvc
    fixed = hold.effort.model_copy(update={"min_pct_mvc": target, "max_pct_mvc": target})
    bounds = {"tolerance_min_pct_mvc": None, "tolerance_max_pct_mvc": None}
    tight = hold.model_copy(update={"effort": fixed, "scaling": hold.scaling.model_copy(update=bounds)})
    assert level_of(tight, target, hold.effort.tolerance_pct_mvc) == 0.5
    assert level_of(tight, target + 3.0, hold.effort.tolerance_pct_mvc) == 0.5


def test_a_rest_that_was_made_longer_reaches_the_plan(order: Prescription) -> None:
    hold = free_to_move(order)
    moved = order.model_copy(update={"exercises": (hold, *order.exercises[1:])})
    days = [done({"thigh-hold": 20}, {"thigh-hold": 0}, hours_ago=24 * (6 - number)) for number in range(1, 5)]
    planned = today(moved, *days).exercises[0]
    assert hold.rest_s < planned.rest_s <= 20.0
    record = today(moved, *days).scaling[0]
    assert record.rest_to_s == planned.rest_s and record.target_to_pct_mvc == planned.target_pct_mvc
    assert record.tolerance_to_pct_mvc == planned.tolerance_pct_mvc and record.reason_patient == "easier"


def test_last_asked_is_that_of_the_last_session_with_the_exercise(order: Prescription) -> None:
    hold = order.exercises[0]
    first = replace(done({"thigh-hold": 3}), left_at={"thigh-hold": 31.0})
    assert last_asked(hold, [first]) == Setting(31.0, 8.0, hold.rest_s)
    assert last_asked(hold, [replace(first, rests={"thigh-hold": 11.0})]).rest_s == max(hold.rest_s, 11.0)
    assert last_asked(hold, [replace(first, rests={"thigh-hold": 0.5})]).rest_s == hold.rest_s


def test_one_step_and_not_more_either_way(order: Prescription) -> None:
    hold = order.exercises[0]
    step = hold.scaling.step_pct_mvc
    for made in (0, 40):
        sessions = [done({"thigh-hold": 40}, {"thigh-hold": made}, hours_ago=24 * n) for n in (5, 4, 3, 2, 1)]
        after = scale(hold, sessions, restraint(hold.id, sessions, order.stop)).setting.target_pct_mvc
        assert abs(after - 35.0) <= step + 1e-9 and (after > 35.0) is (made == 40) and after != 35.0


@pytest.mark.parametrize("made", [0, 40])
def test_a_move_that_one_step_cuts_short_stays_on_the_path(order: Prescription, made: int) -> None:
    """Band and rest go as far as the target does: by straight lines between the easiest, the order and the hardest."""
    hold = free_to_move(order)
    step = 2.0
    cut = hold.model_copy(update={"scaling": hold.scaling.model_copy(update={"step_pct_mvc": step})})
    sessions = [done({"thigh-hold": 40}, {"thigh-hold": made}, hours_ago=24 * n) for n in (5, 4, 3, 2, 1)]
    after = scale(cut, sessions, restraint(cut.id, sessions, order.stop)).setting
    effort = cut.effort
    if made:
        share = step / (effort.max_pct_mvc - effort.target_pct_mvc)
        wanted = (effort.target_pct_mvc + step, 8.0 - share * (8.0 - 4.0), cut.rest_s)
    else:
        share = step / (effort.target_pct_mvc - effort.min_pct_mvc)
        wanted = (effort.target_pct_mvc - step, 8.0 + share * (12.0 - 8.0), cut.rest_s + share * (20.0 - cut.rest_s))
    assert (after.target_pct_mvc, after.tolerance_pct_mvc, after.rest_s) == pytest.approx(wanted)


def test_a_day_is_asked_for_by_date_or_by_moment(order: Prescription) -> None:
    assert plan_today(order, History(()), date(2026, 11, 26)).exercises
    with pytest.raises(ValueError, match="which day"):
        plan_today(order, History(()))
