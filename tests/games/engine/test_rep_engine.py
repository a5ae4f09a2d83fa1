"""The rep engine counts what the muscle did, never more and never less, and keeps every rest."""

from __future__ import annotations

import random

import pytest
from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortRetuned,
    ExerciseFinished,
    Reading,
    RepMade,
    RepMissed,
    RestEnded,
    SetFinished,
)
from musclewood.games.engine.reps import RepEngine

STEP_S = 0.01


def test_a_hold_is_counted_when_its_time_in_the_band_is_complete(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.4, 2.1)
    assert patient.verdicts == []
    patient.do(0.4, 0.3)
    assert patient.verdicts == ["counted"]
    rep = patient.events[-1].rep
    assert rep.in_band_s == pytest.approx(2.0, abs=STEP_S)
    assert rep.mean_pct_mvc == pytest.approx(40.0)
    assert rep.target_pct_mvc == 40.0 and rep.tolerance_pct_mvc == pytest.approx(10.0)


def test_an_honest_but_noisy_hold_is_not_punished(muscle):
    noise = random.Random(4)
    patient = muscle()
    patient.do(0.0, 0.1)
    for _ in range(60):
        patient.do(0.4 + noise.uniform(-0.15, 0.15), 0.05)
    assert patient.verdicts == ["counted"]


@pytest.mark.parametrize(
    ("level", "seconds", "verdict"),
    [(0.4, 1.2, "short"), (0.22, 3.0, "weak"), (0.6, 3.0, "over"), (0.15, 1.0, "weak"), (0.6, 0.9, "over")],
)
def test_what_ended_early_says_why(muscle, level, seconds, verdict):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(level, seconds)
    patient.do(0.0, 1.0)
    assert patient.verdicts == [verdict]


def test_time_above_the_band_earns_nothing(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.6, 13.9)
    assert patient.engine.view.held_s < 0.15  # the way up through the band


def test_above_the_effort_ceiling_the_attempt_ends_as_over(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.9, 1.5)
    assert patient.verdicts == ["over"]
    assert patient.engine.view.phase == "release"


def test_an_effort_without_end_is_given_up(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.2, 20.0)
    assert patient.verdicts == ["weak"]


def test_a_short_dip_does_not_end_the_contraction(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.4, 1.5)
    patient.do(0.05, 0.2)
    patient.do(0.4, 1.5)
    assert patient.verdicts == ["counted"]


def test_the_rest_clock_runs_only_while_the_muscle_is_quiet(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.4, 6.0)  # keeps on after the rep was counted
    assert patient.engine.view.phase == "release"
    patient.do(0.0, 1.5)
    patient.do(0.09, 4.0)  # not contracting, yet not quiet either
    left = patient.engine.view.left_s
    assert 1.4 < left < 2.0
    told = patient.do(0.0, left + 0.3)
    assert any(isinstance(event, CueGiven) for event in told)


def test_a_contraction_in_rest_is_recorded_and_rest_begins_again(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.4, 2.5)
    patient.do(0.0, 2.5)
    patient.do(0.4, 3.0)
    patient.do(0.0, 2.9)
    assert patient.verdicts == ["counted", "not relaxed"]
    assert patient.engine.view.phase == "rest" and patient.engine.view.made == 1
    patient.do(0.0, 1.0)
    assert patient.engine.view.phase == "ready"


def test_somebody_slow_to_let_go_has_not_failed_but_a_new_contraction_is_one(muscle):
    """A paretic grip stops 5.0 s late (Seo 2009), in waves; who was still for 0.3 s and works again has begun anew."""
    slow, quick = muscle(release_s=5.0), muscle(release_s=5.0)
    for patient in (slow, quick):
        patient.do(0.0, 0.1)
        patient.do(0.4, 2.5)
    for _ in range(4):
        slow.do(0.0, 0.2)
        slow.do(0.2, 0.6)
    assert slow.verdicts == ["counted"]
    quick.do(0.0, 0.5)
    quick.do(0.4, 1.0)
    quick.do(0.0, 1.0)
    assert quick.verdicts == ["counted", "not relaxed"]


def test_after_a_weak_one_too_a_contraction_in_rest_is_never_lost(muscle):
    patient = muscle(release_s=0.8)
    patient.do(0.0, 0.1)
    patient.do(0.2, 2.0)
    patient.do(0.0, 0.5)
    patient.do(0.4, 1.5)
    patient.do(0.0, 0.5)
    assert patient.verdicts == ["weak", "not relaxed"]


def test_a_twitch_in_rest_only_stops_the_clock(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.4, 2.5)
    patient.do(0.0, 1.0)
    before = patient.engine.view.left_s
    patient.do(0.3, 0.1)
    patient.do(0.0, 0.6)
    assert patient.verdicts == ["counted"]
    assert before - patient.engine.view.left_s <= 0.6


def test_lost_contact_makes_the_rep_unreadable(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.4, 1.0)
    patient.do(0.4, 0.5, readable=False)
    assert patient.verdicts == ["unreadable"]
    patient.do(0.0, 3.5)
    assert patient.engine.view.phase == "ready"


def test_numbers_that_are_none_are_unreadable_too(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.4, 1.0)
    patient.do(float("nan"), 0.5)
    assert patient.verdicts == ["unreadable"]


def test_nothing_passes_while_nothing_can_be_read(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.0, 500.0, readable=False)
    assert patient.events == [CueGiven(1, 1)] and patient.engine.view.phase == "ready"


def test_nobody_there_ends_the_exercise(muscle):
    patient = muscle()
    patient.do(0.0, 200.0)
    assert patient.verdicts == ["weak"] * 3
    assert patient.events[-1] == ExerciseFinished(0, "no effort")


def test_a_muscle_that_never_rests_ends_the_exercise(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.4, 100.0)
    assert patient.verdicts == ["counted"]
    assert patient.events[-1] == ExerciseFinished(1, "not relaxed")


def test_sets_rests_and_the_end(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    for _ in range(6):
        patient.until("ready")
        patient.do(0.4, 2.5)
        patient.do(0.0, 0.5)
    assert patient.verdicts == ["counted"] * 6
    sets = [event for event in patient.events if isinstance(event, SetFinished)]
    assert [(one.set_number, one.made, one.attempts) for one in sets] == [(1, 3, 3), (2, 3, 3)]
    assert patient.events[-1] == ExerciseFinished(6, "done") and patient.engine.done
    assert sum(isinstance(event, RestEnded) for event in patient.events) == 5


def test_a_set_ends_after_twice_as_many_attempts_as_reps(muscle):
    patient = muscle(sets=1)
    patient.do(0.0, 0.1)
    for _ in range(6):
        patient.until("ready")
        patient.do(0.4, 1.0)
        patient.do(0.0, 1.0)
    assert patient.events[-1] == ExerciseFinished(0, "done")
    assert patient.verdicts == ["short"] * 6


def test_a_quick_rep_needs_a_brisk_rise_and_a_full_release(muscle):
    quick = {"kind": "quick", "hold_s": 0.3, "rise_s": 0.3}
    brisk, slow, stuck = muscle(**quick), muscle(**quick), muscle(**quick)
    for patient in (brisk, slow, stuck):
        patient.do(0.0, 0.5)
    brisk.do(0.4, 0.4)
    brisk.do(0.0, 1.0)
    for level in range(10, 42):
        slow.do(level / 100, 0.04)
    slow.do(0.0, 1.0)
    stuck.do(0.4, 3.0)
    assert (brisk.verdicts, slow.verdicts, stuck.verdicts) == (["counted"], ["weak"], ["not relaxed"])


def test_a_pattern_is_followed(muscle):
    track = {"kind": "track", "hold_s": 8.0, "pattern": (0.25, 1.0, 1.0, 0.25), "tolerance_pct_mvc": 8.0}
    good, flat, asleep = muscle(**track), muscle(**track), muscle(**track)
    good.until("effort")
    while good.engine.view.phase == "effort":
        good.do(good.engine.view.pattern_target, STEP_S)
    flat.until("effort")
    flat.do(0.12, 8.0)
    asleep.do(0.0, 60.0)
    assert (good.verdicts, flat.verdicts) == (["counted"], ["weak"])
    assert asleep.events[-1].reason == "no effort"


def test_staying_quiet_in_one_piece(muscle):
    relax = {"kind": "relax", "hold_s": 4.0, "target_pct_mvc": 5.0, "tolerance_pct_mvc": 5.0, "quiet_pct_mvc": 5.0}
    calm, stirred = muscle(**relax), muscle(**relax)
    calm.do(0.02, 6.5)
    assert calm.verdicts == ["counted"]
    stirred.do(0.02, 5.0)
    stirred.do(0.2, 1.0)
    assert stirred.engine.view.held_s == 0.0
    stirred.do(0.2, 30.0)
    assert stirred.verdicts[0] == "not relaxed"


def test_the_opposite_muscle_must_stay_below_its_ceiling(muscle):
    kind = {"kind": "selective", "channels": (0, 1), "opposite_ceiling_pct_mvc": 15.0}
    clean, spoilt = muscle(**kind), muscle(**kind)
    for patient, opposite in ((clean, 0.1), (spoilt, 0.3)):
        patient.do(0.0, 0.1)
        patient.do(0.4, 3.0, opposite)
        patient.do(0.0, 1.0)
    assert (clean.verdicts, spoilt.verdicts) == (["counted"], ["compensated"])


def test_both_sides_must_be_alike(muscle):
    kind = {"kind": "paired", "channels": (0, 1), "difference_pct_mvc": 8.0}
    alike, tilted = muscle(**kind), muscle(**kind)
    for patient, other in ((alike, 0.37), (tilted, 0.2)):
        patient.do(0.0, 0.1)
        patient.do(0.4, 3.0, other)
        patient.do(0.0, 1.0)
    assert (alike.verdicts, tilted.verdicts) == (["counted"], ["compensated"])


def test_retuning_stays_within_the_range_and_is_told(exercise):
    engine = RepEngine(exercise(), STEP_S, effort_range_pct_mvc=(30.0, 90.0))
    assert engine.retune(45.0) == [EffortRetuned(45.0, 40.0)]
    assert engine.retune(95.0) == [EffortRetuned(70.0, 45.0)]  # the ceiling
    assert engine.retune(10.0) == [EffortRetuned(30.0, 70.0)]
    assert RepEngine(exercise(), STEP_S).retune(60.0) == []


def test_giving_up_judges_what_was_begun(muscle):
    patient = muscle()
    patient.do(0.0, 0.1)
    patient.do(0.4, 1.0)
    told = patient.engine.give_up("stopped")
    assert isinstance(told[0], RepMissed) and told[0].rep.verdict == "short"
    assert isinstance(told[1], SetFinished) and told[-1] == ExerciseFinished(0, "stopped")
    assert patient.engine.step(Reading((0.4,), (True,))) == []


@pytest.mark.parametrize("seed", range(20))
def test_no_play_undercuts_rest_or_exceeds_the_reps(exercise, seed):
    """Random play of every kind of foolishness, judged by an independent look at the levels."""
    chance = random.Random(seed)
    plan = exercise(sets=2, reps=3, rest_s=2.0, set_rest_s=4.0, hold_s=0.5)
    engine = RepEngine(plan, STEP_S)
    quiet_s, made, due_s = 0.0, 0, 0.0
    for _ in range(4000):
        level, readable = chance.choice([0.0, 0.0, 0.05, 0.2, 0.4, 0.4, 0.6, 0.9]), chance.random() > 0.03
        for _ in range(chance.randrange(1, 200)):
            quiet_s += STEP_S if readable and level < 0.08 else 0.0
            for event in engine.step(Reading((level,), (level > 0.1,), readable)):
                if isinstance(event, RepMade | RepMissed):
                    made += isinstance(event, RepMade)
                    quiet_s, due_s = 0.0, plan.rest_s
                elif isinstance(event, SetFinished):
                    due_s = plan.set_rest_s
                elif isinstance(event, CueGiven):
                    assert quiet_s >= due_s - 2 * STEP_S
        if engine.done:
            break
    assert engine.done and made <= 6
