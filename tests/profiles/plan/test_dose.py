"""What today asks: within every ceiling, whatever was done before and however it went."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from musclewood.profiles.journal.history import History, PastRep, PastSession
from musclewood.profiles.journal.journal import Reading
from musclewood.profiles.journal.records import CalibrationRecord, SessionEnd, SessionStart
from musclewood.profiles.orders.exercises import AnyExercise, Relax, reps_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS, StopRules
from musclewood.profiles.orders.templates import template, template_names
from musclewood.profiles.plan.dose import plan_today
from musclewood.profiles.plan.recent_mvc import Measured, follow, reference_for_today
from musclewood.profiles.plan.safety import pain_says_stop, restraint
from musclewood.profiles.plan.scaling import Setting, as_ordered, at_level, level_of, scale

THURSDAY = datetime(2026, 11, 26, 16, 0, tzinfo=UTC)


def past(
    started: datetime = THURSDAY,
    reps: dict[str, tuple[int, int]] | None = None,
    *,
    pain: int | None = None,
    first_pain: int | None = 0,
    ending: Any = "complete",
    minutes: float = 12,
    tired: tuple[str, ...] = (),
    verdict_else: str = "weak",
    target: float = 35.0,
    tolerance: float = 8.0,
    number: int = 1,
) -> PastSession:
    """A session with (counted, attempted) reps by exercise."""
    done = reps if reps is not None else {"thigh-hold": (20, 24), "thigh-quick": (16, 16), "thigh-wave": (8, 8)}
    each = tuple(
        PastRep(name, "counted" if index < counted else verdict_else, target, tolerance)
        for name, (counted, attempted) in done.items()
        for index in range(attempted)
    )
    return PastSession(
        number,
        SessionStart("HB-0042", 1, "ble", started.isoformat(), "Europe/Prague"),
        SessionEnd((started + timedelta(minutes=minutes)).isoformat(), ending),
        {name: counted for name, (counted, _) in done.items() if counted},
        {name: attempted for name, (_, attempted) in done.items() if attempted},
        pain,
        first_pain,
        each,
        frozenset(tired),
    )


def plan(prescription: Prescription, *sessions: PastSession, now: datetime = THURSDAY) -> Any:
    return plan_today(prescription, History(sessions), now=now)


def test_a_first_day_is_as_ordered(knee: Prescription) -> None:
    today = plan(knee)
    assert [exercise.exercise_id for exercise in today.exercises] == ["thigh-hold", "thigh-quick", "thigh-wave"]
    hold, quick, wave = today.exercises
    assert (hold.sets, hold.reps, hold.hold_s, hold.rest_s, hold.set_rest_s) == (2, 10, 5.0, 6.0, 60.0)
    assert (hold.target_pct_mvc, hold.tolerance_pct_mvc, hold.ceiling_pct_mvc) == (35.0, 8.0, 70.0)
    assert hold.channels == (0,) and hold.rise_s is None and hold.pattern is None
    assert quick.rise_s == 0.6 and wave.pattern == (0.4, 0.7, 1.0, 0.7, 0.5, 0.8, 0.4)
    assert today.reps == 44 and today.reasons == () and today.scaling == ()
    for one in today.exercises:  # nothing is known yet of this person's habits, nor of their skill
        assert (one.start_s, one.release_s, one.unseen_share) == (0.0, 0.0, 0.0)
        assert one.own == {}, "all that these kinds order has a place of its own"


def test_kinds_with_two_muscles_bring_their_own_limits() -> None:
    selective = plan(template("shoulder-out-of-balance"), now=datetime(2026, 11, 27, 9, tzinfo=UTC)).exercises[0]
    assert selective.channels == (0, 1) and selective.opposite_ceiling_pct_mvc == 15.0
    paired = plan(template("ankle-after-sprain"), now=datetime(2026, 11, 27, 9, tzinfo=UTC)).exercises[2]
    assert paired.channels == (0, 1) and paired.difference_pct_mvc == 15.0
    relax = plan(template("over-tense-neck")).exercises[0]
    assert relax.kind == "relax" and relax.quiet_pct_mvc == relax.target_pct_mvc == 6.0


@pytest.mark.parametrize(
    ("now", "why"),
    [
        (datetime(2026, 11, 25, 9, tzinfo=UTC), "rest"),
        (datetime(2026, 11, 24, 9, tzinfo=UTC), "later"),
        (datetime(2027, 1, 9, 9, tzinfo=UTC), "ended"),
    ],
)
def test_days_on_which_nothing_is_due(knee: Prescription, now: datetime, why: str) -> None:
    today = plan(knee.model_copy(update={"expires": date(2027, 1, 8)}), now=now)
    assert today.exercises == () and today.reasons[0] == why


def test_an_overdue_review_is_said_and_stops_nothing(knee: Prescription) -> None:
    today = plan(knee, now=datetime(2026, 12, 17, 9, tzinfo=UTC))
    assert today.exercises and today.reasons[0] == "review"


def test_the_day_is_the_patients_own(knee: Prescription) -> None:
    """At 23:30 UTC on Wednesday it is Thursday in Prague, a day of exercise."""
    assert plan(knee, now=datetime(2026, 11, 25, 23, 30, tzinfo=UTC)).day == date(2026, 11, 26)
    assert plan(knee, now=datetime(2026, 11, 25, 23, 30, tzinfo=UTC)).exercises


def test_a_whole_session_ends_the_day(knee: Prescription) -> None:
    today = plan(knee, past(), now=THURSDAY + timedelta(hours=5))
    assert today.exercises == () and today.reasons[0] == "done"


def test_a_session_that_broke_off_is_taken_up_where_it_stopped(knee: Prescription) -> None:
    broken = past(reps={"thigh-hold": (20, 22), "thigh-quick": (5, 6)}, ending="interrupted")
    today = plan(knee, broken, now=THURSDAY + timedelta(minutes=20))
    assert [(one.exercise_id, one.sets * one.reps) for one in today.exercises] == [
        ("thigh-quick", 10),
        ("thigh-wave", 8),
    ]


def test_two_sessions_need_their_hours_between() -> None:
    wrist = template("wrist-after-stroke")
    done = past(reps={"hand-lift": (12, 12), "hand-wave": (6, 6), "hand-let-go": (6, 6)})
    soon = plan(wrist, done, now=THURSDAY + timedelta(hours=2))
    assert soon.exercises == () and soon.reasons[0] == "soon"
    assert soon.not_before == THURSDAY + timedelta(minutes=12, hours=4)
    assert plan(wrist, done, now=soon.not_before).reps == 24


def test_pain_ends_the_day(knee: Prescription) -> None:
    for session in (past(pain=5, ending="interrupted"), past(pain=3, first_pain=1), past(ending="pain")):
        today = plan(knee, session, now=THURSDAY + timedelta(hours=5))
        assert today.exercises == () and today.reasons[0] == "pain"


@pytest.mark.parametrize(
    ("pain", "before", "stops"), [(5, 0, True), (10, None, True), (4, 3, False), (4, 2, True), (4, None, False)]
)
def test_when_pain_says_stop(knee: Prescription, pain: int, before: int | None, stops: bool) -> None:
    assert pain_says_stop(pain, before, knee.stop) is stops  # stop at 5, or a rise by 2


def test_the_week_has_its_own_ceiling(knee: Prescription) -> None:
    few = knee.ceilings.model_copy(update={"reps_per_week": 250})
    order = knee.model_copy(update={"ceilings": few, "days": DAYS})
    monday = datetime(2026, 11, 30, 16, tzinfo=UTC)
    days = [past(monday + timedelta(days=day), number=day + 1) for day in range(5)]  # 48 attempts each
    today = plan(order, *days, now=monday + timedelta(days=5))
    assert today.reasons[0] == "week"  # five sessions a week
    order = order.model_copy(update={"ceilings": few.model_copy(update={"sessions_per_week": 7})})
    today = plan(order, *days, now=monday + timedelta(days=5))
    assert sum(one.most_attempts for one in today.exercises) <= 10 and today.reasons[0] == "shorter"
    assert plan(order, *days, now=monday + timedelta(days=7)).reps == 44  # a new week


def test_a_clock_set_back_a_day_gives_no_second_dose(knee: Prescription) -> None:
    friday = THURSDAY + timedelta(days=1)
    today = plan(knee, past(friday), now=friday - timedelta(hours=23))
    assert today.day == THURSDAY.date() and today.exercises == () and today.reasons[0] == "clock-behind"
    assert plan(knee, past(friday, ending="pain"), now=friday - timedelta(hours=23)).exercises == ()


def test_a_session_while_the_clock_was_far_ahead_costs_a_day_and_no_more(knee: Prescription) -> None:
    far_ahead = past(THURSDAY + timedelta(days=200), number=1)
    assert plan(knee, far_ahead, now=THURSDAY).reasons[0] == "clock-behind"
    opened = Reading(1, "open", THURSDAY)
    on_saturday = History((far_ahead,), readings=(opened,))
    assert plan_today(knee, on_saturday, now=THURSDAY + timedelta(days=2)).reps == 44


def test_pain_makes_the_next_session_lighter_and_says_so(knee: Prescription) -> None:
    today = plan(knee, past(pain=3, first_pain=2), now=THURSDAY + timedelta(days=1))
    hold = today.exercises[0]
    assert hold.target_pct_mvc == pytest.approx(35.0 * 0.9)
    record = today.scaling[0]
    assert (record.target_from_pct_mvc, record.target_to_pct_mvc) == (35.0, pytest.approx(31.5))
    assert record.reason_patient == "pain" and "10 %" in record.reason_therapist
    assert [(one.title, one.reason) for one in today.changes if one.title == hold.title] == [(hold.title, "pain")]


def scaled(exercise: AnyExercise, sessions: list[PastSession], rules: StopRules) -> Setting:
    return scale(exercise, sessions, restraint(exercise.id, sessions, rules)).setting


@pytest.mark.parametrize("trouble", ["pain", "tired", "unreadable"])
def test_nothing_rises_after_trouble(knee: Prescription, trouble: str) -> None:
    easy = [past(THURSDAY - timedelta(days=9 - day), {"thigh-hold": (30, 30)}, number=day) for day in range(5)]
    last: dict[str, Any] = {"reps": {"thigh-hold": (30, 30)}, "number": 9}
    assert scaled(knee.exercises[0], [*easy, past(**last)], knee.stop).target_pct_mvc > 36.0
    if trouble == "pain":
        last |= {"pain": 3, "first_pain": 3}
    elif trouble == "tired":
        last |= {"tired": ("thigh-hold",)}
    else:
        last |= {"reps": {"thigh-hold": (30, 31)}, "verdict_else": "unreadable"}
    sessions = [*easy, past(**last)]
    assert scaled(knee.exercises[0], sessions, knee.stop).target_pct_mvc <= 35.0
    calm = past(reps={"thigh-hold": (30, 30)}, number=10)
    after_one = scaled(knee.exercises[0], [*sessions, calm], knee.stop).target_pct_mvc
    assert after_one <= 35.0 if trouble == "pain" else after_one > 36.0
    assert scaled(knee.exercises[0], [*sessions, calm, calm], knee.stop).target_pct_mvc > 36.0


def test_a_new_revision_starts_as_ordered(knee: Prescription) -> None:
    done = [past(THURSDAY - timedelta(days=day), {"thigh-hold": (40, 40)}, target=39.0) for day in (3, 2, 1)]
    assert plan(knee, *done).exercises[0].target_pct_mvc > 39.0
    assert plan(knee.model_copy(update={"revision": 2}), *done).exercises[0].target_pct_mvc == 35.0


def test_scaling_that_is_off_leaves_the_order_alone(knee: Prescription) -> None:
    hold = knee.exercises[0]
    off = hold.model_copy(update={"scaling": hold.scaling.model_copy(update={"on": False})})
    for reps in ((40, 40), (0, 40)):
        assert scaled(off, [past(reps={"thigh-hold": reps})] * 4, knee.stop) == as_ordered(off)


def test_after_pain_scaling_that_is_off_goes_back_to_the_order_by_steps_once_it_is_calm(knee: Prescription) -> None:
    hold = knee.exercises[0]
    off = hold.model_copy(update={"scaling": hold.scaling.model_copy(update={"on": False, "step_pct_mvc": 2.0})})
    done = [past(reps={"thigh-hold": (20, 20)}, pain=3, first_pain=3)]
    targets = []
    for _ in range(5):
        targets.append(scaled(off, done, knee.stop).target_pct_mvc)
        done.append(past(reps={"thigh-hold": (20, 20)}, target=targets[-1]))
    assert targets == pytest.approx([31.5, 31.5, 33.5, 35.0, 35.0])


def test_steps_are_counted_from_where_a_session_left_the_target(knee: Prescription) -> None:
    """Eased after its last rep, from 35 to 25: the next session starts from there, however well it went before."""
    good = [past(reps={"thigh-hold": (20, 20)}, number=number) for number in range(4)]
    eased = replace(past(reps={"thigh-hold": (20, 20)}, number=5), left_at={"thigh-hold": 25.0})
    assert scaled(knee.exercises[0], [*good, eased], knee.stop).target_pct_mvc <= 25.0 + 5.0


def test_pain_lightens_the_next_time_an_exercise_is_done(knee: Prescription) -> None:
    """Not only the next session, in which it may not have been reached."""
    painful = past(reps={"thigh-hold": (20, 20), "thigh-quick": (8, 8)}, pain=3, first_pain=3)
    without = [past(reps={"thigh-quick": (8, 8)}, number=number) for number in range(2, 6)]
    assert scaled(knee.exercises[0], [painful, *without], knee.stop).target_pct_mvc == pytest.approx(31.5)


@pytest.mark.parametrize("name", template_names())
def test_a_setting_is_recognised_again(name: str) -> None:
    for exercise in template(name).exercises:
        if exercise.effort.min_pct_mvc < exercise.effort.max_pct_mvc:
            for level in (0.0, 0.2, 0.5, 0.73, 1.0):
                setting = at_level(exercise, level)
                again = level_of(exercise, setting.target_pct_mvc, setting.tolerance_pct_mvc)
                assert again == pytest.approx(level, abs=0.006)
        assert at_level(exercise, 0.5) == as_ordered(exercise)


@st.composite
def histories(draw: st.DrawFn, prescription: Prescription) -> History:
    sessions = []
    moment = datetime(2026, 11, 26, 8, tzinfo=UTC)
    for number in range(draw(st.integers(0, 6))):
        moment += timedelta(hours=draw(st.sampled_from((0.5, 3, 8, 20, 24, 60))))
        reps = {}
        for exercise in prescription.exercises:
            attempted = draw(st.integers(0, 2 * reps_of(exercise)))
            reps[exercise.id] = (draw(st.integers(0, attempted)), attempted)
        session = past(
            moment,
            reps,
            pain=draw(st.none() | st.integers(0, 10)),
            first_pain=draw(st.none() | st.integers(0, 10)),
            ending=draw(st.sampled_from(("complete", "interrupted", "sensor", "stopped", "pain"))),
            minutes=draw(st.floats(0, 40)),
            tired=tuple(draw(st.sets(st.sampled_from([exercise.id for exercise in prescription.exercises])))),
            verdict_else=draw(st.sampled_from(("weak", "over", "unreadable", "not relaxed"))),
            number=number + 1,
        )
        each = draw(st.sampled_from((0.0, 0.3, 0.5, 0.8, 1.0)))
        by_id = {exercise.id: at_level(exercise, each) for exercise in prescription.exercises}
        declines = {exercise.id: draw(st.sampled_from((0.0, 0.0, 12.0, 35.0))) for exercise in prescription.exercises}
        moved = tuple(
            replace(
                rep,
                target_pct_mvc=by_id[rep.exercise_id].target_pct_mvc,
                tolerance_pct_mvc=by_id[rep.exercise_id].tolerance_pct_mvc,
            )
            for rep in session.reps
        )
        sessions.append(replace(session, reps=moved, declines=declines))
    return History(tuple(sessions))


def test_no_past_leads_beyond_a_bound(full: bool) -> None:
    @settings(
        max_examples=10_000 if full else 60,
        deadline=None,
        database=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )
    @given(st.data(), st.sampled_from(template_names()), st.integers(0, 10 * 24))
    def check(data: st.DataObject, name: str, hours: int) -> None:
        order = template(name)
        history = data.draw(histories(order))
        now = datetime(2026, 11, 26, 9, tzinfo=UTC) + timedelta(hours=hours)
        today = plan_today(order, history, now=now)
        assert today == plan_today(order, history, now=now)  # the same past gives the same plan
        _check_bounds(order, history, today)

    check()


def _check_bounds(order: Prescription, history: History, today: Any) -> None:
    from zoneinfo import ZoneInfo

    zone = ZoneInfo(order.timezone or "UTC")
    monday = today.day - timedelta(days=today.day.weekday())
    attempts_today = sum(sum(one.attempts.values()) for one in history.on(today.day, zone))
    attempts_week = sum(sum(one.attempts.values()) for one in history.between(monday, today.day, zone))
    allowed = sum(exercise.most_attempts for exercise in today.exercises)
    if not today.exercises:
        assert today.reasons
        return
    assert attempts_today + allowed <= order.ceilings.reps_per_day
    assert attempts_week + allowed <= order.ceilings.reps_per_week
    by_id = {exercise.id: exercise for exercise in order.exercises}
    for planned in today.exercises:
        exercise = by_id[planned.exercise_id]
        assert 0 < planned.sets * planned.reps <= planned.most_attempts
        assert planned.sets <= exercise.sets and planned.reps <= exercise.reps
        assert exercise.effort.min_pct_mvc <= planned.target_pct_mvc <= exercise.effort.max_pct_mvc
        assert planned.target_pct_mvc <= planned.ceiling_pct_mvc == exercise.effort.ceiling_pct_mvc
        assert planned.rest_s >= exercise.rest_s and planned.set_rest_s == exercise.set_rest_s
        if not isinstance(exercise, Relax):
            assert planned.target_pct_mvc + planned.tolerance_pct_mvc <= planned.ceiling_pct_mvc + 1e-9
            assert planned.target_pct_mvc - planned.tolerance_pct_mvc >= planned.quiet_pct_mvc - 1e-9
            asked = [
                rep.target_pct_mvc for one in history.sessions for rep in one.reps if rep.exercise_id == exercise.id
            ]
            if asked and _troubled(order, history, exercise.id):
                assert planned.target_pct_mvc <= asked[-1] + 1e-9
            if asked:
                assert planned.target_pct_mvc - asked[-1] <= exercise.scaling.step_pct_mvc + 0.2
    for record in today.scaling:
        assert record.reason_patient and record.reason_therapist and "\n" not in record.reason_therapist


def _troubled(order: Prescription, history: History, exercise_id: str) -> bool:
    """Pain in the session before or the calm ones that must follow it, fatigue or an unreadable
    signal the last time."""
    recent = history.sessions[-1:]
    if any((one.highest_pain or 0) >= order.stop.pain_lighten for one in recent):
        return True
    done = [one for one in history.sessions if any(rep.exercise_id == exercise_id for rep in one.reps)]
    unreadable = any(rep.exercise_id == exercise_id and rep.verdict == "unreadable" for rep in done[-1].reps)
    decline = done[-1].declines.get(exercise_id, 0.0)
    return exercise_id in done[-1].tired or unreadable or decline >= order.stop.fatigue_decline_pct


@pytest.mark.parametrize("gain", [0.7, 1.0, 1.3])
def test_electrode_shifts_move_the_effort_in_uv_and_not_in_percent(knee: Prescription, gain: float) -> None:
    """The same reps with the electrodes elsewhere: the plan is the same; only its measure in µV
    follows the electrodes."""
    done = [past(THURSDAY - timedelta(days=9 - day), {"thigh-hold": (17, 20)}, number=day) for day in range(1, 8)]

    def calibrated(*gains: float) -> History:
        found = [
            CalibrationRecord("vastus-medialis", 0, 30.0, 3.0, 180.0 * one, 0.05, (), 180.0 * one) for one in gains
        ]
        return History(tuple(done), tuple(enumerate(found, start=1)))

    steady, shifted = calibrated(*[1.0] * 7), calibrated(1.3, 0.7, 1.0, 1.3, 0.7, 1.3, 0.7)
    assert plan_today(knee, shifted, now=THURSDAY) == plan_today(knee, steady, now=THURSDAY)
    past_ones = [Measured(done[number - 1].started, one.mvc_uv, one.cv) for number, one in shifted.calibrations]
    today = reference_for_today(follow(past_ones), Measured(THURSDAY, 180.0 * gain, 0.05))
    assert today.estimate_uv == pytest.approx(180.0 * gain, rel=0.05)
