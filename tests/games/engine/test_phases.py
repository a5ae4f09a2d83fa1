"""The rep engine's way from phase to phase, tick by tick: each event at the moment that is reckoned by hand.

Limits of time are our choice and named where they stand (`games/engine/reps.py`).
"""

from __future__ import annotations

import pytest
from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortStarted,
    ExerciseFinished,
    Reading,
    RepMissed,
    RestEnded,
    RestStarted,
    SetFinished,
)

from tests.games.engine.walk import STEP_S, Walk, plain


def test_two_sets_from_the_first_cue_to_the_end() -> None:
    walk = Walk()
    walk.go(2, 0.0)
    for _ in range(4):
        walk.go(9, 0.5)
        walk.go(2, 0.0)
        walk.go(8 if len(walk.reps) != 2 else 16, 0.0)
    assert plain(walk.told) == [
        (100.125, CueGiven(1, 1)),
        (100.375, EffortStarted(1, 1)),
        (101.375, "counted"),  # the average is in the band from the second tick on, then eight of them
        (101.625, RestStarted(1.0)),  # one tick lets the average fall
        (102.625, RestEnded()),
        (102.625, CueGiven(1, 2)),
        (102.75, EffortStarted(1, 2)),
        (103.75, "counted"),
        (104.0, SetFinished(1, 2, 2, 2, 100.0, 104.0)),
        (104.0, RestStarted(2.0)),
        (106.0, RestEnded()),
        (106.0, CueGiven(2, 1)),
        (106.125, EffortStarted(2, 1)),
        (107.125, "counted"),
        (107.375, RestStarted(1.0)),
        (108.375, RestEnded()),
        (108.375, CueGiven(2, 2)),
        (108.5, EffortStarted(2, 2)),
        (109.5, "counted"),
        (109.75, SetFinished(2, 2, 2, 2, 104.0, 109.75)),
        (109.75, ExerciseFinished(4, "done")),
    ]
    first, *_ = walk.reps
    assert (first.set_number, first.rep_number) == (1, 1) and walk.reps[2].set_number == 2
    assert (first.onset_s, first.offset_s, first.held_s, first.in_band_s) == (100.25, 101.375, 1.125, 1.0)
    assert (first.mean_pct_mvc, first.peak_pct_mvc, first.steadiness) == (50.0, 50.0, 1.0)
    assert first.rise_pct_mvc_per_s == 50.0 / STEP_S  # from the tick before the onset to the first above it
    assert walk.view.phase == walk.engine.phase == "done" and walk.view.set_number == 2
    assert walk.engine.step(Reading((0.5,), (True,))) == []


def test_what_is_shown_on_the_way() -> None:
    walk = Walk()
    assert (walk.engine.target_pct_mvc, walk.engine.now_s, walk.view.readable) == (50.0, 100.0, False)
    walk.go(1, 0.0)
    assert (walk.view.phase, walk.view.rep_number, walk.view.left_s, walk.view.quiet) == ("ready", 1, 0.0, True)
    walk.go(1, 0.5)
    assert (walk.view.phase, walk.view.effort_s, walk.view.held_s, walk.view.level) == ("effort", 0.125, 0.0, (0.25,))
    assert not walk.view.in_band and walk.view.last_verdict is None
    walk.go(4, 0.5)
    assert (walk.view.effort_s, walk.view.held_s, walk.view.in_band, walk.view.over) == (0.625, 0.5, True, False)
    walk.go(4, 0.5)
    assert (walk.view.phase, walk.view.made, walk.view.rep_number) == ("release", 1, 2)
    assert (walk.view.held_s, walk.view.effort_s, walk.view.last_verdict) == (0.0, 0.0, "counted")
    walk.go(1, 0.0)
    assert not walk.view.quiet
    walk.go(3, 0.0)
    assert (walk.view.phase, walk.view.left_s) == ("rest", 0.75)
    walk.go(6, 0.0)
    walk.rep()
    assert (walk.view.phase, walk.view.left_s, walk.view.made, walk.view.rep_number) == ("set rest", 2.0, 0, 1)
    assert walk.view.set_number == 2 and walk.view.opposite is None and walk.view.difference is None


@pytest.mark.parametrize(("level", "inside", "over"), [(0.374, 0, 0), (0.375, 1, 0), (0.625, 1, 0), (0.626, 0, 1)])
def test_between_efforts_too_the_edges_of_the_band_belong_to_it(level: float, inside: bool, over: bool) -> None:
    walk = Walk()
    walk.go(3, level, working=True)
    assert walk.view.phase == "release" and walk.view.in_band == inside and walk.view.over == over


@pytest.mark.parametrize(("level", "quiet"), [(0.0625, True), (0.063, False)])
def test_the_quiet_level_itself_is_quiet(level: float, quiet: bool) -> None:
    walk = Walk()
    walk.go(1, level)
    assert walk.view.quiet is quiet and walk.view.phase == ("ready" if quiet else "release")


def test_a_muscle_as_high_as_the_band_works_whatever_was_detected() -> None:
    walk = Walk()
    walk.go(1, 0.0, working=False)
    walk.go(1, 0.375, working=False)
    assert walk.view.phase == "ready"
    walk.go(1, 0.375, working=False)
    assert walk.view.phase == "effort"


# --- limits of time -----------------------------------------------------------------------------------------------
@pytest.mark.parametrize("late_s", [0.0, 2.0])
def test_a_cue_waits_half_a_minute_and_as_long_as_this_person_starts_late(late_s: float) -> None:
    walk = Walk(start_s=late_s)
    walk.go(1, 0.0)
    assert walk.go(round((30.0 + late_s) / STEP_S) - 1, 0.0) == []
    (missed,) = walk.go(1, 0.0)
    assert isinstance(missed, RepMissed) and missed.rep.verdict == "weak"
    assert missed.rep.onset_s == missed.rep.offset_s == walk.engine.now_s == 130.125 + late_s


def test_three_cues_in_a_row_unanswered_and_nobody_is_there() -> None:
    walk, stirs = Walk(reps=6), Walk(reps=6)
    walk.go(10_000, 0.0)
    assert walk.verdicts == ["weak"] * 3 and walk.told[-1][1] == ExerciseFinished(0, "no effort")
    stirs.go(500, 0.0)
    stirs.go(2, 0.25)  # weak, but tried
    stirs.go(510, 0.0)
    assert stirs.verdicts == ["weak"] * 5 and not stirs.engine.done
    stirs.go(250, 0.0)
    assert stirs.told[-1][1] == ExerciseFinished(0, "no effort") and stirs.verdicts == ["weak"] * 6


def test_a_muscle_may_take_a_minute_to_let_go() -> None:
    walk = Walk()
    walk.go(1, 0.0)
    walk.go(9, 0.5)
    assert walk.go(480, 0.2) == []
    assert walk.go(1, 0.2) == [SetFinished(1, 2, 1, 1, 100.0, walk.engine.now_s), ExerciseFinished(1, "not relaxed")]


def test_before_the_first_cue_too_a_muscle_has_a_minute_to_come_to_rest() -> None:
    walk = Walk()
    assert walk.go(480, 0.2) == []
    assert walk.go(1, 0.2) == [ExerciseFinished(0, "not relaxed")]


def test_rest_may_be_put_off_for_a_minute_by_a_muscle_that_is_not_quiet() -> None:
    walk = Walk()
    walk.go(1, 0.0)
    walk.rep()
    walk.go(4, 0.0)
    walk.go(1, 0.08)  # averaged with the tick before it, still quiet
    assert walk.go(480, 0.08) == [] and walk.view.left_s == 0.375
    assert walk.go(1, 0.08)[-1] == ExerciseFinished(1, "not relaxed")


@pytest.mark.parametrize(("gap", "verdicts"), [(1, []), (2, ["short"])])
def test_a_contraction_ends_with_three_tenths_of_a_second_without_one(gap: int, verdicts: list[str]) -> None:
    """Ticks of 0.15 s: two of them are the grace to the tick."""
    walk = Walk(step_s=0.15, hold_s=3.0)
    walk.go(1, 0.0)
    walk.go(5, 0.5)
    walk.go(gap, 0.0, working=False)
    assert walk.verdicts == verdicts
    if verdicts:
        (rep,) = walk.reps
        assert rep.onset_s == pytest.approx(100.15) and rep.offset_s == pytest.approx(100.90)
        assert rep.mean_pct_mvc == 50.0, "the quiet end is no part of it"


def test_what_ended_before_its_end_was_seen_leaves_no_time_behind() -> None:
    """A stir of one tick after half a minute of silence: its end lies at its beginning, not before it."""
    walk = Walk()
    walk.go(8, 0.0)
    walk.go(1, 0.2)
    walk.go(3, 0.0)
    (rep,) = walk.reps
    assert (rep.onset_s, rep.offset_s, rep.held_s) == (101.0, 101.125, 0.125)
