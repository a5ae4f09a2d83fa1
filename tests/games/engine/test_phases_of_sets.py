"""What ends a set, an exercise or an attempt from without: ceilings, tiredness, pauses, signals that cannot be read."""

from __future__ import annotations

import pytest
from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortRetuned,
    ExerciseFinished,
    RepMissed,
    RestEnded,
    RestStarted,
    SetFinished,
)

from tests.games.engine.walk import Walk


# --- ceilings, sets and what others may do -----------------------------------------------------------------------
def test_attempts_end_where_the_day_allows_no_more() -> None:
    walk = Walk(sets=2, reps=2, most_attempts=3)
    walk.go(1, 0.0)
    for _ in range(3):
        walk.rep()
        walk.go(16, 0.0)
    assert [event for _, event in walk.told[-2:]] == [
        SetFinished(2, 2, 1, 1, 104.875, 108.25),
        ExerciseFinished(3, "ceiling"),
    ]
    misses = Walk(sets=1, reps=3, most_attempts=2)
    misses.go(1, 0.0)
    for _ in range(2):
        misses.go(4, 0.5)
        misses.go(12, 0.0)
    assert misses.told[-1][1] == ExerciseFinished(0, "ceiling")


def test_whoever_is_through_with_the_last_set_is_done_though_the_day_is_used_up() -> None:
    walk = Walk(sets=2, reps=2, most_attempts=4)
    walk.go(1, 0.0)
    for _ in range(4):
        walk.rep()
        walk.go(16, 0.0)
    assert walk.told[-1][1] == ExerciseFinished(4, "done")
    first = Walk(sets=2, reps=2, most_attempts=2)
    first.go(1, 0.0)
    for _ in range(2):
        first.rep()
        first.go(16, 0.0)
    assert first.told[-1][1] == ExerciseFinished(2, "ceiling")


def test_without_a_rest_the_next_cue_follows_at_once() -> None:
    walk = Walk(rest_s=0.0, set_rest_s=0.0, sets=1)
    walk.go(1, 0.0)
    walk.rep()
    assert walk.told[-1] == (101.5, CueGiven(1, 2)) and walk.view.left_s == 0.0


def test_a_rest_between_sets_is_at_least_that_between_reps() -> None:
    walk = Walk(reps=1, rest_s=3.0, set_rest_s=2.0)
    walk.go(1, 0.0)
    walk.rep()
    assert walk.told[-1][1] == RestStarted(3.0)
    assert walk.go(23, 0.0) == [] and walk.go(1, 0.0) == [RestEnded(), CueGiven(2, 1)]


def test_a_tired_muscle_ends_its_set_and_the_next_begins_afresh() -> None:
    walk = Walk()
    walk.go(1, 0.0)
    walk.go(9, 0.5)
    walk.engine.tire()
    assert walk.engine.tired and walk.view.note == walk.engine.note == "tired"
    walk.go(2, 0.0)
    ended = walk.told[-2][1]
    assert isinstance(ended, SetFinished) and ended.tired and (ended.made, ended.attempts) == (1, 1)
    assert not walk.engine.tired and walk.view.set_number == 2
    walk.go(16, 0.0)
    walk.go(1, 0.5)
    assert walk.view.note is None, "what was told is over with the next effort"
    all_made = Walk(reps=1)
    all_made.go(1, 0.0)
    all_made.go(9, 0.5)
    all_made.engine.tire()
    all_made.go(2, 0.0)
    assert not next(event.tired for _, event in all_made.told if isinstance(event, SetFinished))


def test_retuning_is_told_and_an_easier_target_is_noted_once() -> None:
    walk = Walk(effort=(30.0, 90.0))
    assert walk.engine.retune(55.0) == [EffortRetuned(55.0, 50.0)]
    assert walk.engine.note is None and walk.engine.target_pct_mvc == pytest.approx(55.0)
    assert walk.engine.retune(55.0) == [] == walk.engine.retune(55.0 + 1e-10)
    assert walk.engine.retune(45.0) == [EffortRetuned(45.0, pytest.approx(55.0))]
    assert walk.engine.note == "easier" and walk.view.target == 0.45
    walk.engine.tire()
    walk.engine.retune(40.0)
    assert walk.engine.note == "tired", "what was said first stays"
    still = Walk(kind="relax", effort=(2.0, 60.0))
    still.engine.retune(4.0)
    assert still.engine.note is None, "quieter is not easier"


def test_a_pause_judges_what_was_begun_and_a_rest_is_due() -> None:
    walk = Walk()
    walk.go(1, 0.0)
    assert walk.engine.interrupt() == []
    walk.go(4, 0.5)
    (missed,) = walk.engine.interrupt()
    assert isinstance(missed, RepMissed) and missed.rep.verdict == "short"
    assert walk.view.phase == "release"
    walk.go(2, 0.0)
    assert walk.told[-1][1] == RestStarted(1.0)


@pytest.mark.parametrize(("reason", "verdict"), [("sensor", "unreadable"), ("stopped", "short")])
def test_giving_up_judges_by_its_reason(reason: str, verdict: str) -> None:
    walk = Walk()
    walk.go(1, 0.0)
    walk.go(4, 0.5)
    missed, ended, finished = walk.engine.give_up(reason)
    assert isinstance(missed, RepMissed) and missed.rep.verdict == verdict
    assert ended == SetFinished(1, 2, 0, 1, 100.0, 100.625) and finished == ExerciseFinished(0, reason)
    assert walk.engine.give_up(reason) == [] and walk.view.set_number == 1
    assert Walk().engine.give_up(reason) == [ExerciseFinished(0, reason)], "nothing was begun: no set ends"


# --- what cannot be read ------------------------------------------------------------------------------------------
def test_what_cannot_be_read_stops_the_clocks_and_the_average() -> None:
    walk = Walk(hold_s=4.0)
    walk.go(1, 0.0)
    walk.go(4, 0.5)
    walk.go(2, 0.0, working=False)
    walk.go(1, 0.0, readable=False)
    walk.go(2, 0.0, working=False)
    assert walk.verdicts == [], "the time without a contraction begins anew"
    walk.go(1, 0.0, working=False)
    assert walk.verdicts == ["short"]
    fresh = Walk()
    fresh.go(2, 0.0)
    fresh.go(1, 0.25, readable=False)
    assert fresh.view.level == (0.0,) and fresh.view.activation == (0.25,) and not fresh.view.readable
    fresh.go(1, 0.5)
    assert fresh.view.level == (0.5,), "what came before the gap is not averaged with what comes after"


@pytest.mark.parametrize("level", [float("nan"), float("inf")])
def test_what_is_no_number_cannot_be_read(level: float) -> None:
    walk = Walk()
    walk.go(2, 0.0)
    walk.go(1, level, working=True)
    assert not walk.view.readable and walk.view.phase == "ready"
    assert walk.view.activation == pytest.approx((level,), nan_ok=True)
