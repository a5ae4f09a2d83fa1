"""Contractions where there should be rest: when they begin and end, and what they cost."""

from __future__ import annotations

import pytest
from musclewood.games.engine.rep_events import (
    ExerciseFinished,
    RestStarted,
    SetFinished,
)

from tests.games.engine.walk import STEP_S, Walk, resting


def test_a_contraction_in_rest_has_its_own_beginning_and_end() -> None:
    walk = resting()
    began_s = walk.engine.now_s
    for level in (0.25, 0.3125, 0.1875):
        walk.go(1, level)
    walk.go(3, 0.0)
    rep = walk.reps[1]
    assert (rep.verdict, rep.set_number, rep.rep_number) == ("not relaxed", 1, 2)
    assert (rep.onset_s, rep.offset_s) == (began_s, began_s + 0.375)
    assert (rep.mean_pct_mvc, rep.peak_pct_mvc) == (25.0, 31.25)
    assert rep.rise_pct_mvc_per_s == 25.0 / STEP_S, "from the quiet tick before it"
    assert walk.view.phase == "release" and walk.view.made == 1
    (rest,) = walk.go(1, 0.0)
    assert rest == RestStarted(1.0), "the whole rest begins again"


@pytest.mark.parametrize(("ticks", "verdicts"), [(1, []), (2, ["not relaxed"])])
def test_a_stir_of_a_quarter_second_is_a_contraction(ticks: int, verdicts: list[str]) -> None:
    walk = resting()
    walk.go(ticks, 0.25)
    walk.go(2, 0.0, working=False)
    assert walk.verdicts == ["counted"], "not yet seen to be over"
    walk.go(1, 0.0, working=False)
    assert walk.verdicts == ["counted", *verdicts]
    if not verdicts:
        assert walk.view.phase == "rest" and walk.view.left_s == 0.625, "the clock stood still meanwhile"


def test_a_knock_is_neither_an_effort_nor_unrest() -> None:
    """High for 0.15 s, of which no detector makes a contraction; the average of 0.25 s shows it for 0.4 s."""
    step_s = 0.05
    for phase in ("ready", "rest"):
        walk = Walk(step_s=step_s)
        walk.go(1, 0.0)
        if phase == "rest":
            walk.go(30, 0.5)
            walk.go(8, 0.0)
        before = walk.verdicts
        walk.go(3, 20.0, working=False)
        walk.go(14, 0.0)
        assert walk.view.phase == phase and walk.verdicts == before
        walk.go(6, 0.5)
        walk.go(12, 0.0)
        assert len(walk.verdicts) == len(before) + 1, "what is detected is judged as ever"


def test_knocks_that_follow_each_other_are_no_effort_but_what_stays_high_is() -> None:
    """Each dies away within an eighth of a second, as cables do; the averages of three run into each other."""
    for phase in ("ready", "rest"):
        walk = Walk(step_s=0.025, rest_s=10.0)
        walk.go(1, 0.0)
        if phase == "rest":
            walk.go(60, 0.5)
            walk.go(20, 0.0)
        before = walk.verdicts
        for _ in range(3):
            walk.go(5, 8.0, working=False)
            walk.go(9, 0.0)
        walk.go(14, 0.0)
        assert walk.view.phase == phase and walk.verdicts == before
        walk.go(28, 0.5, working=False)
        walk.go(16, 0.0)
        assert len(walk.verdicts) == len(before) + 1, "nothing was detected, and still it must be muscle"


def test_a_hold_counts_and_is_not_too_strong_though_the_cable_is_knocked() -> None:
    """Four knocks of an eighth of a second at ten times the level, which would be a second and a half above the
    ceiling."""
    walk = Walk(step_s=0.025, hold_s=3.0)
    walk.go(1, 0.0)
    for _ in range(4):
        walk.go(20, 0.5)
        walk.go(4, 5.0)
    walk.go(80, 0.5)
    assert walk.verdicts == ["counted"]
    assert walk.reps[0].in_band_s == pytest.approx(3.0)


@pytest.mark.parametrize(("level", "verdicts"), [(0.04, []), (0.06, ["not relaxed"])])
def test_what_is_detected_at_a_twentieth_of_the_maximum_is_still_rest(level: float, verdicts: list[str]) -> None:
    walk = resting()
    walk.go(16, level, working=True)
    walk.go(3, 0.0)
    assert walk.verdicts == ["counted", *verdicts]


def test_a_cue_nobody_answers_is_missed_in_time_though_something_stirs_again_and_again() -> None:
    """As hum does that comes and goes: each time high for a fifth of a second, and no contraction."""
    walk = Walk(step_s=0.05)
    walk.go(1, 0.0)
    for _ in range(6):
        assert walk.view.phase == "ready" and not walk.verdicts
        walk.go(5, 0.6, working=False)
        walk.go(95, 0.0)
    assert walk.verdicts == ["weak"]


def test_the_end_of_a_stir_is_seen_after_three_tenths_of_a_second() -> None:
    """Ticks of 0.15 s: two of them are the grace to the tick."""
    walk = Walk(step_s=0.15, hold_s=0.9)
    walk.go(1, 0.0)
    walk.go(8, 0.5)
    walk.go(3, 0.0)
    assert walk.view.phase == "rest"
    walk.go(4, 0.25)
    walk.go(1, 0.0, working=False)
    assert walk.verdicts == ["counted"]
    walk.go(1, 0.0, working=False)
    assert walk.verdicts == ["counted", "not relaxed"]
    assert walk.reps[1].held_s == pytest.approx(0.6)


def test_a_contraction_in_rest_that_does_not_end_is_not_relaxed_at_its_limit() -> None:
    walk = resting()
    walk.go(95, 0.25)
    assert walk.verdicts == ["counted"]
    walk.go(1, 0.25)  # twice the hold and ten seconds
    assert walk.verdicts == ["counted", "not relaxed"] and walk.reps[1].held_s == 12.0


def test_a_set_ends_after_five_contractions_in_rest_more_than_its_reps() -> None:
    walk = resting(reps=2)
    for number in range(7):
        assert walk.view.set_number == 1 and len(walk.reps) == 1 + number
        walk.go(2, 0.25)
        walk.go(5, 0.0)
    (over,) = [event for _, event in walk.told if isinstance(event, SetFinished)]
    assert (over.made, over.attempts) == (1, 8)
    assert walk.view.phase == "set rest" and walk.verdicts == ["counted"] + ["not relaxed"] * 7


@pytest.mark.parametrize(("reps", "tries"), [(1, 3), (2, 4), (3, 6), (4, 8)])
def test_a_set_ends_after_twice_its_reps_but_two_more_at_least(reps: int, tries: int) -> None:
    walk = Walk(reps=reps, sets=1)
    walk.go(1, 0.0)
    for _ in range(tries):
        assert not walk.engine.done
        walk.go(4, 0.5)
        walk.go(12, 0.0)
    assert walk.engine.done and walk.verdicts == ["short"] * tries
    assert walk.told[-1][1] == ExerciseFinished(0, "done")


@pytest.mark.parametrize(("release_s", "verdicts"), [(0.376, ["counted"]), (0.375, ["counted", "not relaxed"])])
def test_somebody_slow_to_let_go_has_so_long_after_the_verdict(release_s: float, verdicts: list[str]) -> None:
    """Never still for 0.3 s: the third tick after the verdict finds the muscle at work again, 0.375 s after it."""
    walk = Walk(release_s=release_s)
    walk.go(1, 0.0)
    walk.rep()
    assert walk.view.phase == "rest"
    walk.go(3, 0.25)
    walk.go(4, 0.0)
    assert walk.verdicts == verdicts


@pytest.mark.parametrize(("still", "verdicts"), [(2, ["counted"]), (3, ["counted", "not relaxed"])])
def test_who_was_still_for_three_tenths_and_works_again_is_at_work(still: int, verdicts: list[str]) -> None:
    walk = Walk(release_s=5.0)
    walk.go(1, 0.0)
    walk.go(9, 0.5)
    walk.go(still, 0.0)
    walk.go(3, 0.25)
    walk.go(4, 0.0)
    assert walk.verdicts == verdicts
