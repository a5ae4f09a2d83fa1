"""The rep engine's way from phase to phase, tick by tick: each event at the moment that is reckoned by hand.

Ticks are an eighth of a second, so that sums are exact and a limit is met to the tick; the average that the judge goes
by is then that of two ticks. Limits of time are our choice and named where they stand (`games/engine/reps.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest
from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortRetuned,
    EffortStarted,
    ExerciseFinished,
    Reading,
    RepEvent,
    RepMade,
    RepMissed,
    RestEnded,
    RestStarted,
    SetFinished,
)
from musclewood.games.engine.reps import RepEngine
from musclewood.profiles.plan.dose import PlannedExercise

STEP_S, START_S = 0.125, 100.0
PLAN = PlannedExercise(
    exercise_id="hold", kind="hold", title="Hold", workshops=("kiln",), channels=(0,), sets=2, reps=2, hold_s=1.0,
    rest_s=1.0,
    set_rest_s=2.0, target_pct_mvc=50.0, tolerance_pct_mvc=12.5, ceiling_pct_mvc=75.0, quiet_pct_mvc=6.25,
)  # fmt: skip


class Walk:
    """An engine fed tick by tick; `told` has every event with the session's time at which it was told."""

    def __init__(self, step_s: float = STEP_S, effort: tuple[float, float] | None = None, **changes: Any) -> None:
        self.engine = RepEngine(replace(PLAN, **changes), step_s, START_S, effort)
        self.told: list[tuple[float, RepEvent]] = []

    def go(self, ticks: int, *levels: float, working: bool | None = None, readable: bool = True) -> list[RepEvent]:
        """So many ticks at these levels; a muscle is at work above a tenth unless `working` says otherwise."""
        now: list[RepEvent] = []
        for _ in range(ticks):
            at_work = tuple(level > 0.1 if working is None else working for level in levels)
            for event in self.engine.step(Reading(levels, at_work, readable)):
                self.told.append((self.engine.now_s, event))
                now.append(event)
        return now

    def rep(self) -> None:
        """From the cue: counted, let go, and quiet until the rest begins."""
        self.go(9, 0.5)
        self.go(2, 0.0)

    @property
    def view(self) -> Any:
        return self.engine.view

    @property
    def reps(self) -> list[Any]:
        return [event.rep for _, event in self.told if isinstance(event, RepMade | RepMissed)]

    @property
    def verdicts(self) -> list[str]:
        return [rep.verdict for rep in self.reps]


def plain(told: Sequence[tuple[float, RepEvent]]) -> list[tuple[float, Any]]:
    """The same with a verdict in the place of a judged rep."""
    judged = (RepMade, RepMissed)
    return [(at_s, event.rep.verdict if isinstance(event, judged) else event) for at_s, event in told]


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


# --- contractions where there should be rest ---------------------------------------------------------------------
def resting(**changes: Any) -> Walk:
    """Three eighths of a second into the first rest."""
    walk = Walk(**changes)
    walk.go(1, 0.0)
    walk.rep()
    walk.go(3, 0.0)
    return walk


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


# --- kinds --------------------------------------------------------------------------------------------------------
def test_a_pattern_begins_two_seconds_after_its_cue_or_later_for_who_starts_late() -> None:
    track = {"kind": "track", "pattern": (0.0, 1.0), "hold_s": 2.0}
    for late_s, lead_s in ((0.0, 2.0), (3.0, 3.0)):
        walk = Walk(start_s=late_s, **track)
        walk.go(1, 0.0)
        assert (walk.view.phase, walk.view.left_s, walk.view.pattern_target) == ("ready", lead_s, 0.0)
        walk.go(round(lead_s / STEP_S) - 1, 0.0)
        assert (walk.view.phase, walk.view.left_s) == ("ready", STEP_S)
        walk.go(1, 0.0)
        assert walk.view.phase == "effort" and walk.view.left_s == 0.0


def test_above_a_pattern_is_over_wherever_the_pattern_is() -> None:
    """A straight way from 0 to 50 %MVC in two seconds, 12.5 either side: at one second 37.5 is its edge."""
    walk = Walk(kind="track", pattern=(0.0, 1.0), hold_s=2.0)
    walk.go(16, 0.0)
    for level, over in ((0.375, False), (0.38, True)):
        again = Walk(kind="track", pattern=(0.0, 1.0), hold_s=2.0)
        again.go(17, 0.0)
        again.go(7, level)
        assert (again.view.effort_s, again.view.pattern_target, again.view.over) == (1.0, 0.25, over)
        assert again.view.activation == (level,), "a pattern is followed as it comes"


def test_a_pattern_is_not_ended_by_letting_go_and_ends_when_its_time_is_over() -> None:
    walk = Walk(kind="track", pattern=(1.0, 1.0), hold_s=2.0)
    walk.go(17, 0.0)
    walk.go(12, 0.5)
    assert walk.verdicts == []
    walk.go(3, 0.0)
    (rep,) = walk.reps
    assert (rep.onset_s, rep.offset_s, rep.held_s) == (102.0, 104.0, 2.0), "its quiet end is a part of it"


def test_quiet_is_asked_of_the_muscle_and_more_is_over() -> None:
    walk = Walk(kind="relax", hold_s=2.0)
    walk.go(17, 0.0)
    assert walk.view.phase == "effort" and not walk.view.over
    walk.go(2, 0.0625, working=False)
    assert not walk.view.over
    walk.go(2, 0.07, working=False)
    assert walk.view.over
    walk.go(12, 0.0)
    assert walk.verdicts == []
    walk.go(1, 0.0)
    assert walk.verdicts == ["counted"]
    assert walk.go(1, 0.25)[0] == RestStarted(1.0), "rest after quiet is free"


def test_two_muscles_are_shown_as_what_they_are() -> None:
    pair = {"channels": (0, 1)}
    selective = Walk(kind="selective", opposite_ceiling_pct_mvc=25.0, **pair)
    paired = Walk(kind="paired", difference_pct_mvc=25.0, **pair)
    for walk in (selective, paired):
        walk.go(2, 0.5, 0.375)
    assert (selective.view.opposite, selective.view.difference) == (0.375, None)
    assert (selective.view.opposite_ceiling, selective.view.difference_limit) == (0.25, None)
    assert (paired.view.opposite, paired.view.difference, paired.view.difference_limit) == (None, 0.125, 0.25)
    selective.go(2, 0.0, 0.5)
    paired.go(2, 0.0, 0.5)
    assert selective.view.quiet and selective.view.phase == "ready", "the opposite muscle need not rest"
    assert not paired.view.quiet and paired.view.phase == "release"
    paired.go(2, 0.0, 0.7)
    assert paired.view.over and not selective.view.over


def test_the_second_muscle_reaches_the_figures_of_a_rep() -> None:
    walk = Walk(kind="selective", opposite_ceiling_pct_mvc=25.0, channels=(0, 1))
    walk.go(1, 0.0, 0.0)
    walk.go(8, 0.5, 0.125, working=True)
    walk.go(1, 0.5, 0.25, working=True)
    (rep,) = walk.reps
    assert rep.verdict == "counted" and rep.opposite_mean_pct_mvc == pytest.approx(100 * (8 * 0.125 + 0.25) / 9)


def test_a_quick_effort_is_shown_as_it_comes_and_a_hold_is_steadied() -> None:
    quick, hold = Walk(kind="quick", rise_s=0.5, hold_s=0.25), Walk()
    for walk in (quick, hold):
        walk.go(4, 0.25)
        walk.go(1, 0.375)
    assert quick.view.activation == (0.375,) and hold.view.activation[0] < 0.36


def test_doors_close_evenly_over_all_attempts_and_never_on_the_first() -> None:
    """A third of them: the third, the sixth, the ninth, made or missed, across the sets."""
    walk = Walk(sets=3, reps=3, unseen_share=1 / 3 + 1e-12)
    walk.go(1, 0.0)
    shut = []
    while not walk.engine.done:
        shut.append(walk.view.unseen)
        walk.go(9 if len(shut) != 4 else 4, 0.5)
        walk.go(3, 0.0)
        while walk.view.phase not in ("ready", "done"):
            assert not walk.view.unseen
            walk.go(1, 0.0)
    assert [number for number, one in enumerate(shut, 1) if one] == [3, 6, 9]
    assert [number for number, rep in enumerate(walk.reps, 1) if rep.unseen] == [3, 6, 9]
    assert walk.verdicts[3] == "short"


def test_a_contraction_in_rest_is_never_behind_the_door() -> None:
    walk = resting(unseen_share=1.0)
    assert walk.reps[0].unseen
    walk.go(3, 0.25)
    walk.go(3, 0.0)
    assert walk.verdicts[1] == "not relaxed" and not walk.reps[1].unseen
