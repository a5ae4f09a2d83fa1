"""A session goes from stage to stage, waits for signal, calibration and answers, and always comes to its end."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import pytest
from musclewood.games.engine.endings import NO_MAXIMUM
from musclewood.games.engine.session import Session, SessionSettings
from musclewood.games.engine.session_events import (
    ExerciseBegan,
    Happening,
    ReferenceFound,
    SessionOver,
    StageEntered,
    Tick,
)
from musclewood.games.running.todays_plan import plan_for
from musclewood.profiles.journal.history import History
from musclewood.profiles.journal.records import (
    CalibrationRecord,
    RatingRecord,
    RepRecord,
    SetRecord,
)
from musclewood.profiles.orders.prescription import Prescription
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.quality.quality import Quality, QualityFault

from tests.games.engine.person import FULL_UV, NOW, STEP_S, Person


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


class TwoSides(Person):
    """With the other side's muscle on a second channel, or on one that the sensor has not; it answers unless told not
    to."""

    def __init__(self, prescription: Prescription, channels: int, answers: bool = True) -> None:
        super().__init__(prescription)
        plan = plan_for(prescription, History(), NOW, practice=True)
        self.session = Session(prescription, plan, STEP_S, channels, minutes_left=60.0)
        self.told = list(self.session.begin())
        self._channels, self._answers = channels, answers

    def do(self, level: float, for_s: float, *, readable: bool = True) -> list[Happening]:
        told: list[Happening] = []
        levels = (level, level if self._answers else 0.0)[: self._channels]
        amplitude = tuple(max(3.0, one * FULL_UV) for one in levels)
        tick = Tick(amplitude, levels, tuple(one > 0.1 for one in levels), (readable,) * self._channels)
        for _ in range(round(for_s / STEP_S)):
            told += self.session.step(tick)
            self._ticks += 1
            if self._ticks % 100 == 0:
                told += self.session.look(Quality(0.0, ("good",) * self._channels, ((),) * self._channels, ()))
        return self.act(told)


@pytest.mark.parametrize(("channels", "answers", "measured"), [(2, True, 2), (1, True, 1), (2, False, 1)])
def test_the_other_side_is_measured_besides_and_keeps_nobody_from_exercising(order, channels, answers, measured):
    prescription = order()
    other = prescription.muscles[0].model_copy(
        update={"id": "other-side", "role": "uninvolved", "side": "right", "channel": 1}
    )
    person = TwoSides(prescription.model_copy(update={"muscles": (*prescription.muscles, other)}), channels, answers)
    person.calibrate()
    assert person.session.stage in ("choose", "exercise")
    found = [record.muscle for record in person.records(CalibrationRecord)]
    assert len(found) == measured and found[0] == prescription.muscles[0].id
    assert ("other-side" in found) == (measured == 2)
