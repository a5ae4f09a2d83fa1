"""A session goes from stage to stage, stops for pain, waits for sensors and never exceeds what the day allows."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest
from musclewood.games.engine.endings import NO_MAXIMUM, Outcome
from musclewood.games.engine.rep_events import RepMade, RepMissed
from musclewood.games.engine.session import Session, SessionSettings
from musclewood.games.engine.session_events import (
    ExerciseBegan,
    Happening,
    MuscleTired,
    Paused,
    ReferenceFound,
    Resumed,
    SessionOver,
    StageEntered,
    Tick,
)
from musclewood.games.running.setting_up import plan_for
from musclewood.profiles.journal.history import History
from musclewood.profiles.journal.records import (
    CalibrationRecord,
    InterruptionRecord,
    RatingRecord,
    RepRecord,
    ScalingRecord,
    SetRecord,
)
from musclewood.profiles.orders.prescription import Prescription
from musclewood.signal.measures.fatigue import Burst
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.quality.quality import Quality, QualityFault

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
STEP_S = 0.01
FULL_UV = 400.0


class Person:
    """Feeds a session with levels and seconds of quality."""

    def __init__(self, prescription: Prescription, **settings: Any) -> None:
        plan = plan_for(prescription, History(), NOW, practice=True)
        settings.setdefault("minutes_left", 60.0)
        self.session = Session(prescription, plan, STEP_S, 1, **settings)
        self.told: list[Happening] = list(self.session.begin())
        self._ticks = 0
        self.verdict, self.faults = "good", ()

    def act(self, happened: list[Happening]) -> list[Happening]:
        self.told += happened
        return happened

    def do(self, level: float, for_s: float, *, readable: bool = True) -> list[Happening]:
        told: list[Happening] = []
        tick = Tick((max(3.0, level * FULL_UV),), (level,), (level > 0.1,), (readable,))
        for _ in range(round(for_s / STEP_S)):
            told += self.session.step(tick)
            self._ticks += 1
            if self._ticks % 100 == 0:
                told += self.session.look(Quality(0.0, (self.verdict,), (self.faults,), ()))
        return self.act(told)

    def until(self, wanted: Callable[[], bool], level: float = 0.0, limit_s: float = 900.0) -> None:
        for _ in range(round(limit_s / 0.1)):
            if wanted():
                return
            self.do(level, 0.1)
        raise AssertionError(f"still at {self.session.view}")

    def calibrate(self) -> None:
        """Through comfort, signal and calibration to the first exercise."""
        self.act(self.session.answer(0))
        self.until(lambda: self.session.stage == "calibration")
        while self.session.stage == "calibration":
            squeezing = self.session.view.calibration.phase == "trial"
            self.do(0.0, 0.3)
            self.do(1.0 if squeezing else 0.0, 1.5)
            self.do(0.0, 0.5)

    def play(self, level: float = 0.4) -> None:
        """Steadily, to the end of the exercises."""
        while self.session.stage in ("exercise", "break"):
            rep = self.session.view.rep
            self.do(level if rep and rep.phase in ("ready", "effort") else 0.0, 0.1)

    def whats(self, kind: type) -> list[Any]:
        return [happening.what for happening in self.told if isinstance(happening.what, kind)]

    def records(self, kind: type) -> list[Any]:
        return [happening.record for happening in self.told if isinstance(happening.record, kind)]


def test_a_whole_session(order):
    person = Person(order())
    person.calibrate()
    person.play()
    person.act(person.session.answer(1))
    person.act(person.session.answer(4))
    stages = [what.stage for what in person.whats(StageEntered)]
    assert stages == ["comfort", "signal", "calibration", "exercise", "rating", "finished"]
    assert person.whats(SessionOver) == [SessionOver("complete")]
    assert len(person.records(RepRecord)) == 6 and len(person.records(SetRecord)) == 2
    ratings = [(one.what, one.value, one.moment) for one in person.records(RatingRecord)]
    assert ratings == [("pain", 0, "before"), ("pain", 1, "after"), ("effort", 4, "after")]
    (calibration,) = person.records(CalibrationRecord)
    assert calibration.mvc_uv == pytest.approx(FULL_UV, rel=0.05) and calibration.rest_uv == pytest.approx(3.0)
    assert person.whats(ReferenceFound)[0].reference.mvc_uv[0] == calibration.reference_uv
    assert all(record.readable_share == 1.0 for record in person.records(SetRecord))


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


def test_a_poor_signal_waits_and_may_be_accepted_after_a_while_but_no_signal_may_not(order):
    person = Person(order())
    person.act(person.session.answer(0))
    person.verdict, person.faults = "poor", (QualityFault("mains", 0.9),)
    person.do(0.0, 5.0)
    person.act(person.session.answer("go on"))
    assert person.session.stage == "signal"
    assert person.session.view.signal.advice == ("mains",)
    person.faults = (QualityFault("contact", 1.0),)
    person.do(0.0, 10.0)
    person.act(person.session.answer("go on"))
    assert person.session.stage == "signal"
    person.faults = (QualityFault("mains", 0.9),)
    person.do(0.0, 1.0)
    person.act(person.session.answer("go on"))
    assert person.session.stage == "calibration"


def test_nobody_squeezing_ends_calibration(order):
    person = Person(order())
    person.act(person.session.answer(0))
    person.until(lambda: person.session.finished)
    assert person.whats(SessionOver)[0].note == NO_MAXIMUM
    outcome = person.session.view.outcome
    assert outcome is not None and outcome.told == Remark.MISPLACED


def test_nobody_answering_ends_the_wait(order):
    person = Person(order(), settings=SessionSettings(waiting_limit_s=30.0))
    person.do(0.0, 31.0)
    assert person.whats(SessionOver)[0].ending == "stopped"


def test_a_known_reference_is_not_asked_for_again(order):
    person = Person(order(), references={0: (3.0, 400.0)})
    person.act(person.session.answer(0))
    person.until(lambda: person.session.stage == "exercise")
    assert person.whats(ReferenceFound)[0].reference.mvc_uv == (400.0,)
    assert person.records(CalibrationRecord) == []


def test_a_workshop_is_chosen_among_those_ordered(order):
    prescription = order()
    plan = plan_for(prescription, History(), NOW, practice=True)
    plan = replace(plan, exercises=(replace(plan.exercises[0], workshops=("kiln", "loom")),))
    session = Session(prescription, plan, STEP_S, 1, minutes_left=60.0, references={0: (3.0, 400.0)})
    session.begin()
    session.answer(0)
    for _ in range(2):
        session.look(Quality(0.0, ("good",), ((),), ()))
    assert session.stage == "choose"
    with pytest.raises(ValueError, match="kiln, loom"):
        session.answer("mill")
    told = session.answer("loom")
    assert [one.what.workshop for one in told if isinstance(one.what, ExerciseBegan)] == ["loom"]


@pytest.mark.parametrize("wrong", [-1, 11, "3", True, 2.5])
def test_an_answer_is_a_whole_number_from_0_to_10(order, wrong):
    with pytest.raises(ValueError, match="0 to 10"):
        Person(order()).session.answer(wrong)


def test_retuning_is_recorded(order):
    person = Person(order())
    person.calibrate()
    told = person.act(person.session.retune(48.0))
    assert told[0].record.target_to_pct_mvc == 48.0
    assert person.session.view.rep.target == pytest.approx(0.48)
    assert person.session.retune(99.0)[0].record.target_to_pct_mvc == 50.0


@pytest.mark.parametrize("seed", range(8))
def test_random_people_always_come_to_an_end_and_never_exceed_the_day(order, seed):
    chance = random.Random(seed)
    person = Person(
        order(sets=2, reps=4, hold_s=0.5, rest_s=1.0, reps_per_day=11, sessions_per_day=1), minutes_left=6.0
    )
    person.act(person.session.answer(0))
    deeds: list[Callable[[], list[Happening]]] = [
        person.session.pause,
        person.session.resume,
        lambda: person.session.it_hurts(chance.randrange(3)),
        lambda: person.session.retune(chance.uniform(0, 120)),
        lambda: person.session.answer("go on") if person.session.stage == "signal" else [],
    ]
    for _ in range(4000):
        if person.session.stage == "rating":
            person.act(person.session.answer(chance.randrange(3)))
        if person.session.finished:
            break
        if chance.random() < 0.05:
            person.act(chance.choice(deeds)())
        person.do(chance.choice([0.0, 0.0, 0.4, 0.4, 1.0]), chance.uniform(0.1, 2.0), readable=chance.random() > 0.05)
    assert person.session.finished and len(person.whats(SessionOver)) == 1
    assert len(person.records(RepRecord)) <= 11
    assert person.session.time_s <= 6.0 * 60.0 + 10.0


def tiring(number: int, hz_lost: float) -> Burst:
    """The spectrum of the `number`-th contraction of a muscle whose median frequency sinks by `hz_lost` each time."""
    scatter = (0.4, -0.3, 0.1, -0.5, 0.3)[number % 5]
    return Burst(10.0 * number, 100.0 - hz_lost * number + scatter, 100.0 + number)


def play_with_spectrum(person: Person, hz_lost: float) -> None:
    """Steadily to the end, each counted rep with its spectrum."""
    seen = 0
    while person.session.stage in ("exercise", "break"):
        rep = person.session.view.rep
        person.do(0.4 if rep and rep.phase in ("ready", "effort") else 0.0, 0.1)
        made = len(person.whats(RepMade))
        if made > seen:
            in_set = (made - 1) % 10 if not person.whats(MuscleTired) else 0
            person.act(person.session.measured(tiring(in_set, hz_lost)))
            seen = made


def test_a_tired_muscle_ends_its_set_and_is_told_so(order):
    person = Person(order(sets=2, reps=10, hold_s=0.5, rest_s=1.0))
    person.calibrate()
    play_with_spectrum(person, hz_lost=5.0)
    first, second = person.records(SetRecord)
    assert first.cut_short == "tired" and 5 <= first.reps_counted < 10
    assert first.median_frequency_decline_pct == pytest.approx(5.0 * (first.reps_counted - 1), abs=1.0)
    assert first.median_frequency_decline_pct >= 20.0
    (tired,) = person.whats(MuscleTired)
    assert tired.exercise_id == "elbow-hold" and tired.decline_pct == first.median_frequency_decline_pct
    assert second.cut_short is None and second.reps_counted == 10  # after the rest between sets it goes on
    assert second.start_s == pytest.approx(first.end_s) and first.quality == "good"
    assert all(record.readable_share == 1.0 for record in (first, second))


def test_a_little_decline_is_only_noted(order):
    person = Person(order(sets=1, reps=10, hold_s=0.5, rest_s=1.0))
    person.calibrate()
    play_with_spectrum(person, hz_lost=1.5)
    (one,) = person.records(SetRecord)
    assert one.cut_short is None and one.median_frequency_decline_pct == pytest.approx(13.5, abs=1.0)
    assert person.whats(MuscleTired) == []


def test_the_patient_is_told_of_fatigue_until_the_next_effort(order):
    person = Person(order(sets=2, reps=10, hold_s=0.5, rest_s=1.0, set_rest_s=3.0))
    person.calibrate()
    notes = set()
    seen = 0
    while not person.records(SetRecord) or person.session.view.rep.phase == "set rest":
        rep = person.session.view.rep
        person.do(0.4 if rep.phase in ("ready", "effort") else 0.0, 0.1)
        if len(person.whats(RepMade)) > seen:
            person.act(person.session.measured(tiring(seen, 5.0)))
            seen += 1
        if (rep := person.session.view.rep).phase == "set rest":
            notes.add((rep.note, person.session.view.note))
    assert notes == {("tired", "tired")}
    person.do(0.4, 0.3)
    assert person.session.view.rep.note is None


def test_misses_in_a_row_ease_the_effort_within_the_range_and_the_journal_says_so(order):
    person = Person(order(sets=1, reps=8, hold_s=1.0, rest_s=1.0, low=33, target=40, high=50, tolerance=5))
    person.calibrate()
    for _ in range(7):
        person.until(lambda: person.session.view.rep.phase == "ready")
        person.do(0.25, 2.0)
        person.do(0.0, 0.5)
    moves = [(one.target_from_pct_mvc, one.target_to_pct_mvc) for one in person.records(ScalingRecord)]
    assert moves == [(40.0, 35.0), (35.0, 33.0)]
    assert [rep.target_pct_mvc for rep in person.records(RepRecord)] == pytest.approx([40.0] * 3 + [35.0] * 3 + [33.0])
    assert all(
        "easier" in one.reason_patient and "% of the reference" in one.reason_therapist
        for one in person.records(ScalingRecord)
    )


@pytest.mark.parametrize("trouble", ["pain", "tired", "unreadable", "silent"])
def test_nothing_gets_harder_in_a_session_with_trouble(order, trouble):
    person = Person(order(sets=2, reps=10, hold_s=0.5, rest_s=1.0))
    person.act(person.session.answer(1))
    person.calibrate()
    assert person.act(person.session.retune(42.0))
    if trouble == "pain":
        person.act(person.session.it_hurts(3))  # the level to go easier, below the one to stop
        person.act(person.session.resume())
    elif trouble == "tired":
        for number in range(6):
            person.act(person.session.measured(tiring(number, 5.0)))
    else:
        person.do(0.0, 0.5)
        person.do(0.4, 0.3)
        person.do(0.4, 0.3 if trouble == "unreadable" else 3.0, readable=False)
        person.do(0.0, 1.0)
    assert person.session.retune(45.0) == []
    assert person.session.retune(38.0)[0].record.target_to_pct_mvc == 38.0


def test_the_worst_channel_says_how_well_a_set_was_read(order):
    person = Person(order(sets=1, reps=6, hold_s=1.0, rest_s=2.0))
    person.calibrate()
    person.verdict = "poor"
    person.do(0.0, 8.0)
    person.verdict = "good"
    person.play()
    (one,) = person.records(SetRecord)
    assert one.quality == "poor" and one.cocontraction_pct is None
