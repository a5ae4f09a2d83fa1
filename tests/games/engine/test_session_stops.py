"""What ends a session or pauses it: pain, a wish to stop, a sensor that is lost, and what the day allows."""

from __future__ import annotations

import pytest
from musclewood.games.engine.endings import Outcome
from musclewood.games.engine.rep_events import RepMade, RepMissed
from musclewood.games.engine.session_events import (
    Paused,
    Resumed,
    SessionOver,
)
from musclewood.games.running.todays_plan import plan_for
from musclewood.profiles.journal.history import History
from musclewood.profiles.journal.records import (
    InterruptionRecord,
    RatingRecord,
    RepRecord,
    SetRecord,
)

from tests.games.engine.person import NOW, STEP_S, Person


def test_pain_before_the_session_ends_it(order):
    person = Person(order())
    person.act(person.session.answer(5))
    told = "pain 5 of 10 before the exercises (the order stops at 5)"
    assert person.session.finished and person.whats(SessionOver) == [SessionOver("pain", told)]
    assert person.records(RatingRecord)[0].value == 5


def test_pain_at_the_stop_level_ends_it_and_judges_what_was_begun(order):
    person = Person(order())
    person.calibrate()
    person.do(0.0, 0.5)
    person.do(0.4, 1.0)
    told = person.act(person.session.it_hurts(6))
    ended = SessionOver("pain", "pain 6 of 10 ended the session (the order stops at 5)")
    assert person.session.finished and person.whats(SessionOver) == [ended]
    verdicts = [happening.what.rep.verdict for happening in told if isinstance(happening.what, RepMissed)]
    assert verdicts == ["short"]
    assert person.records(RatingRecord)[-1].moment == "during"
    assert person.act(person.session.stop()) == [] and person.do(0.4, 5.0) == []


def test_pain_that_rose_too_far_ends_it_below_the_stop_level(order):
    person = Person(order())
    person.act(person.session.answer(1))
    person.act(person.session.it_hurts(4))
    rule = "(the order stops at a rise of 3)"
    told = f"pain rose from 1 to 4 of 10 before the exercises {rule}"
    assert person.whats(SessionOver) == [SessionOver("pain", told)]
    assert person.session.view.outcome == Outcome("pain-rise", 4, 1, 3, "before")


def test_pain_after_the_exercises_is_told_as_such(order):
    """Nobody stopped in time: everything was done, and then it hurt."""
    person = Person(order(sets=1, reps=1))
    person.calibrate()
    while person.session.stage == "exercise":
        person.do(0.4 if person.session.view.rep.phase in ("ready", "effort") else 0.0, 0.5)
    assert person.session.stage == "rating"
    person.act(person.session.answer(4))
    view = person.session.view
    assert view.outcome is not None and (view.outcome.ending, view.outcome.moment) == ("pain", "after")
    assert view.made == view.ordered == 1
    assert "by the end of the exercises" in str(person.whats(SessionOver)[0].note)


@pytest.mark.parametrize(("made", "why"), [(0, "patient"), (1, "patient")])
def test_what_was_stopped_says_how_much_was_done(order, made, why):
    person = Person(order(sets=2, reps=3))
    person.calibrate()
    while person.session.view.made < made:
        person.do(0.4 if person.session.view.rep.phase in ("ready", "effort") else 0.0, 0.5)
    person.act(person.session.stop())
    view = person.session.view
    assert view.outcome == Outcome(why) and (view.made, view.ordered) == (made, 6)


def test_a_little_pain_pauses(order):
    person = Person(order())
    person.calibrate()
    person.act(person.session.it_hurts(2))
    before = len(person.records(RepRecord))
    person.do(0.4, 20.0)
    assert person.session.view.paused == "pain" and len(person.records(RepRecord)) == before
    person.act(person.session.resume())
    person.play()
    assert person.records(InterruptionRecord)[0].reason == "pain"
    assert person.records(InterruptionRecord)[0].duration_s == pytest.approx(20.0, abs=0.1)
    assert len(person.whats(RepMade)) == 6


def test_stop_works_in_every_stage(order):
    for stage in ("comfort", "signal", "calibration", "exercise", "rating"):
        person = Person(order())
        if stage != "comfort":
            person.act(person.session.answer(0))
        if stage == "calibration":
            person.until(lambda one=person: one.session.stage == "calibration")
        if stage in ("exercise", "rating"):
            person.calibrate()
        if stage == "rating":
            person.play()
        assert person.session.stage == stage
        person.act(person.session.stop())
        assert person.session.finished and person.whats(SessionOver) == [SessionOver("stopped")]


def test_a_lost_sensor_pauses_and_the_rep_is_unreadable(order):
    person = Person(order())
    person.calibrate()
    person.do(0.0, 0.5)
    person.do(0.4, 1.0)
    person.do(0.4, 3.0, readable=False)
    assert person.session.view.paused == "sensor"
    assert person.records(RepRecord)[-1].verdict == "unreadable"
    person.do(0.0, 1.0)
    assert person.session.view.paused is None
    assert (
        [what.reason for what in person.whats(Paused)] == [what.reason for what in person.whats(Resumed)] == ["sensor"]
    )
    (interruption,) = person.records(InterruptionRecord)
    assert interruption.reason == "sensor" and interruption.duration_s == pytest.approx(3.5, abs=0.2)
    person.play()
    assert len(person.whats(RepMade)) == 6


def test_a_sensor_that_never_comes_back_ends_it(order):
    person = Person(order())
    person.calibrate()
    person.do(0.4, 700.0, readable=False)
    assert person.whats(SessionOver)[0].ending == "sensor"


def test_the_minutes_of_the_day_end_it(order):
    person = Person(order(), minutes_left=0.5)
    person.calibrate()
    person.do(0.0, 60.0)
    assert person.whats(SessionOver)[0].ending == "ceiling"
    assert person.session.time_s <= 30.0 + STEP_S


def test_the_attempts_of_the_day_end_it(order):
    prescription = order(sets=1, reps=3, reps_per_day=4, sessions_per_day=1)
    plan = plan_for(prescription, History(), NOW, practice=False)
    assert plan.exercises[0].most_attempts == 4
    person = Person(prescription)
    person.calibrate()
    while person.session.stage == "exercise":
        person.do(0.4, 0.8)
        person.do(0.0, 1.0)
    assert len(person.records(RepRecord)) == 4
    assert person.records(SetRecord)[0].cut_short == "ceiling"
