"""A muscle that tires, an effort that is eased: what changes within a session, and what the journal says of it."""

from __future__ import annotations

import pytest
from musclewood.games.engine.rep_events import RepMade
from musclewood.games.engine.session_events import (
    MuscleTired,
)
from musclewood.profiles.journal.records import (
    RepRecord,
    ScalingRecord,
    SetRecord,
)
from musclewood.signal.measures.fatigue import Burst

from tests.games.engine.person import Person


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


def test_too_strong_three_times_widens_the_band_as_far_as_the_order_allows_and_asks_for_no_more(order):
    plain = order(sets=1, reps=10, hold_s=1.0, rest_s=1.0, target=40, high=50, tolerance=5)
    first = plain.exercises[0]
    scaling = first.scaling.model_copy(update={"tolerance_max_pct_mvc": 9.0})
    person = Person(plain.model_copy(update={"exercises": [first.model_copy(update={"scaling": scaling})]}))
    person.calibrate()
    for _ in range(10):
        person.until(lambda: person.session.view.rep.phase == "ready")
        person.do(0.52, 2.0)
        person.do(0.0, 0.5)
    moves = [(one.tolerance_from_pct_mvc, one.tolerance_to_pct_mvc) for one in person.records(ScalingRecord)]
    assert moves == [(5.0, 9.0)], "the step is wider than what the order leaves"
    assert {one.target_to_pct_mvc for one in person.records(ScalingRecord)} == {40.0}
    assert {rep.verdict for rep in person.records(RepRecord)} == {"over"}
    assert [rep.tolerance_pct_mvc for rep in person.records(RepRecord)] == pytest.approx([5.0] * 3 + [9.0] * 7)


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


def test_retuning_is_recorded(order):
    person = Person(order())
    person.calibrate()
    told = person.act(person.session.retune(48.0))
    assert told[0].record.target_to_pct_mvc == 48.0
    assert person.session.view.rep.target == pytest.approx(0.48)
    assert person.session.retune(99.0)[0].record.target_to_pct_mvc == 50.0


def test_the_worst_channel_says_how_well_a_set_was_read(order):
    person = Person(order(sets=1, reps=6, hold_s=1.0, rest_s=2.0))
    person.calibrate()
    person.verdict = "poor"
    person.do(0.0, 8.0)
    person.verdict = "good"
    person.play()
    (one,) = person.records(SetRecord)
    assert one.quality == "poor" and one.cocontraction_pct is None
