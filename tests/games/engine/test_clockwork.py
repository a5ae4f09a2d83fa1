"""The rep engine's clocks, counters and view, each against a time or number that is known. All limits are our choice.

Ticks are a sixteenth of a second, so that times are exact; the short average of a quarter second is four ticks.
"""

from __future__ import annotations

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

STEP_S = 1 / 16
PLAN = PlannedExercise("a", "hold", "A", ("kiln",), (0,), 2, 3, 2.0, 3.0, 6.0, 40.0, 10.0, 70.0, 8.0)


class Bench:
    """An engine and what it told, each thing with its time."""

    def __init__(self, start_s: float = 0.0, span: tuple[float, float] | None = None, **changes: Any) -> None:
        self.plan = replace(PLAN, **changes)
        self.engine = RepEngine(self.plan, STEP_S, start_s, span)
        self.told: list[tuple[float, RepEvent]] = []

    def do(
        self, level: float, for_s: float, second: float = 0.0, *, works: bool | None = None, readable: bool = True
    ) -> list[RepEvent]:
        now = (level, second)[: len(self.plan.channels)]
        working = tuple(value > 0.1 if works is None else works for value in now)
        fresh: list[RepEvent] = []
        for _ in range(round(for_s / STEP_S)):
            events = self.engine.step(Reading(now, working, readable))
            self.told += [(self.engine.now_s, event) for event in events]
            fresh += events
        return fresh

    def times(self, kind: type) -> list[float]:
        return [at for at, event in self.told if isinstance(event, kind)]

    def reps(self) -> list[Any]:
        return [event.rep for _, event in self.told if isinstance(event, RepMade | RepMissed)]

    def rep(self) -> None:
        """One that counts, let go, and rested for as long as it takes."""
        while self.engine.phase not in ("ready", "done"):
            self.do(0.0, STEP_S)
        self.do(0.4, 2.5)
        self.do(0.0, 0.5)


def test_a_rep_from_cue_to_cue_on_the_clock() -> None:
    bench = Bench(start_s=100.0)
    assert bench.engine.now_s == 100.0
    bench.do(0.0, 1.0)
    assert bench.times(CueGiven) == [100.0 + STEP_S], "nothing to rest from before the first"
    bench.do(0.4, 3.0)
    assert bench.times(EffortStarted) == [101.0 + STEP_S]
    (rep,) = bench.reps()
    # The average of four ticks is in the band (from 30 %) with the third of them, and earns for two seconds.
    assert (rep.onset_s, rep.offset_s) == (101.0, 101.0 + 2 * STEP_S + 2.0)
    assert rep.held_s == 2.0 + 2 * STEP_S and rep.in_band_s == 2.0
    assert rep.mean_pct_mvc == pytest.approx(40.0) and rep.rise_pct_mvc_per_s == pytest.approx(40.0 / STEP_S)
    assert (rep.set_number, rep.rep_number) == (1, 1)
    bench.do(0.0, 4.0)
    # Let go at 104.0; with three quiet ticks of four the last of work counts no more in the average than a knock
    # would, and rest begins with the next.
    (rested,) = bench.times(RestStarted)
    assert rested == 104.0 + 3 * STEP_S
    assert bench.times(RestEnded) == [rested + 3.0] == bench.times(CueGiven)[1:]
    assert [event.rest_s for _, event in bench.told if isinstance(event, RestStarted)] == [3.0]


def test_a_contraction_that_ends_is_judged_after_three_tenths() -> None:
    bench = Bench()
    bench.do(0.0, 1.0)
    bench.do(0.4, 1.0)
    # The average is below the band with the second quiet tick, and 0.3 s are five ticks.
    bench.do(0.0, 5 * STEP_S)
    assert bench.reps() == []
    bench.do(0.0, STEP_S)
    rep = bench.reps()[0]
    assert rep.verdict == "short"
    assert rep.offset_s == 2.0 + STEP_S, "the quiet tail is no part of it"


def test_an_unanswered_cue_is_missed_after_half_a_minute_and_three_end_it() -> None:
    bench = Bench()
    bench.do(0.0, 120.0)
    (first, second, third) = bench.times(RepMissed)
    assert first == STEP_S + 30.0
    assert second - first == 30.0 + 3.0 + 2 * STEP_S or second - first == 30.0 + 3.0 + STEP_S
    assert bench.times(ExerciseFinished) == [third]
    assert [rep.held_s for rep in bench.reps()] == [0.0] * 3
    assert bench.told[-1][1] == ExerciseFinished(0, "no effort")


def test_an_answer_between_starts_the_count_of_unanswered_cues_again() -> None:
    bench = Bench(sets=1, reps=4)
    for _ in range(2):
        bench.do(0.0, 33.5)
    bench.rep()
    bench.do(0.0, 70.0)
    assert not bench.engine.done
    bench.do(0.0, 40.0)
    assert bench.told[-1][1] == ExerciseFinished(1, "no effort")


def test_a_muscle_that_does_not_let_go_for_a_minute_gets_no_further_rep() -> None:
    bench = Bench()
    bench.do(0.0, 1.0)
    bench.do(0.4, 62.0)
    assert not bench.engine.done
    made = bench.times(RepMade)[0]
    bench.do(0.4, 1.0)
    assert bench.times(ExerciseFinished) == [made + 60.0 + STEP_S]


def test_a_muscle_that_stays_restless_in_rest_ends_it_too() -> None:
    bench = Bench()
    bench.rep()
    bench.do(0.0, 1.0)
    assert bench.engine.phase == "rest"
    bench.do(0.09, 59.0, works=False)  # not at work, not quiet either
    assert not bench.engine.done
    bench.do(0.09, 2.0, works=False)
    assert bench.told[-1][1] == ExerciseFinished(1, "not relaxed")


@pytest.mark.parametrize(("ticks", "judged"), [(1, 0), (3, 0), (4, 1), (6, 1)])
def test_a_twitch_is_no_attempt(ticks: int, judged: int) -> None:
    """Shorter than a quarter of a second."""
    bench = Bench()
    bench.rep()
    bench.do(0.0, 1.0)
    bench.do(0.25, ticks * STEP_S)
    bench.do(0.0, 1.5)
    assert len(bench.reps()) == 1 + judged
    if judged:
        assert bench.reps()[1].verdict == "not relaxed" and bench.reps()[1].rep_number == 2


@pytest.mark.parametrize("reps", [1, 2, 3, 5])
def test_a_set_is_given_up_after_twice_as_many_attempts_and_at_least_two_more(reps: int) -> None:
    bench = Bench(sets=1, reps=reps, rest_s=1.0)
    while not bench.engine.done:
        bench.do(0.0, 2.0)
        bench.do(0.4, 0.75)
        bench.do(0.0, 1.0)
    assert len(bench.reps()) == max(2 * reps, reps + 2)
    finished = next(event for _, event in bench.told if isinstance(event, SetFinished))
    assert (finished.set_number, finished.reps, finished.made, finished.attempts) == (1, reps, 0, len(bench.reps()))
    assert bench.told[-1][1] == ExerciseFinished(0, "done")


def test_contractions_in_rest_end_a_set_after_five_more_than_its_reps() -> None:
    bench = Bench(sets=1, reps=2)
    bench.rep()
    while not bench.engine.done:
        bench.do(0.0, 1.5)
        bench.do(0.4, 0.75)
        bench.do(0.0, 0.5)
    assert [rep.verdict for rep in bench.reps()] == ["counted"] + ["not relaxed"] * 7


@pytest.mark.parametrize(("most", "made"), [(0, 6), (1, 1), (4, 4), (6, 6), (7, 6)])
def test_attempts_end_at_the_days_ceiling(most: int, made: int) -> None:
    bench = Bench(most_attempts=most)
    while not bench.engine.done:
        bench.rep()
    assert len(bench.reps()) == made
    assert bench.told[-1][1] == ExerciseFinished(made, "ceiling" if 0 < most < 6 else "done")


def test_between_sets_the_longer_rest_is_taken() -> None:
    for set_rest_s, wanted in ((6.0, 6.0), (1.0, 3.0)):
        bench = Bench(sets=2, reps=1, set_rest_s=set_rest_s)
        bench.rep()
        bench.do(0.0, 1.0)
        assert bench.engine.phase == "set rest"
        bench.do(0.0, 9.0)
        rests = [event for _, event in bench.told if isinstance(event, RestStarted)]
        assert rests == [RestStarted(wanted)]
        assert bench.times(RestEnded)[0] - bench.times(RestStarted)[0] == wanted
        finished = next(event for _, event in bench.told if isinstance(event, SetFinished))
        assert (finished.start_s, finished.end_s) == (0.0, bench.times(SetFinished)[0]) and not finished.tired
        bench.rep()
        last = [event for _, event in bench.told if isinstance(event, SetFinished)][-1]
        assert (last.set_number, last.start_s) == (2, finished.end_s)
        assert bench.told[-1][1] == ExerciseFinished(2, "done")
        assert bench.engine.view.set_number == 2


def test_a_tired_muscle_makes_no_further_rep_in_its_set() -> None:
    bench = Bench()
    bench.do(0.0, 1.0)
    bench.do(0.4, 2.5)
    bench.engine.tire()
    assert bench.engine.tired and bench.engine.note == "tired"
    bench.do(0.0, 2.0)
    finished = next(event for _, event in bench.told if isinstance(event, SetFinished))
    assert finished.tired and finished.made == 1 and not bench.engine.tired
    full = Bench(sets=1, reps=1)
    full.do(0.0, 1.0)
    full.do(0.4, 2.5)
    full.engine.tire()
    full.do(0.0, 1.0)
    assert not next(event for _, event in full.told if isinstance(event, SetFinished)).tired, "it was done anyway"


def test_what_begins_itself_waits_two_seconds_and_shows_them() -> None:
    bench = Bench(kind="relax", target_pct_mvc=5.0, quiet_pct_mvc=5.0, tolerance_pct_mvc=1.0)
    bench.do(0.0, STEP_S)
    assert bench.engine.view.left_s == 2.0
    bench.do(0.0, 1.5)
    assert bench.engine.view.left_s == 0.5 and bench.engine.phase == "ready"
    bench.do(0.0, 1.0)
    assert bench.times(EffortStarted) == [2.0 + STEP_S]
    held = Bench()
    held.do(0.0, 1.0)
    assert held.engine.view.left_s == 0.0, "a hold begins when the muscle answers"


def test_the_view_in_each_phase() -> None:
    bench = Bench()
    view = bench.engine.view
    assert (view.kind, view.phase, view.set_number, view.sets, view.rep_number, view.reps, view.made) == (
        "hold",
        "release",
        1,
        2,
        1,
        3,
        0,
    )
    assert (view.target, view.low, view.high, view.ceiling, view.quiet_below) == pytest.approx(
        (0.4, 0.3, 0.5, 0.7, 0.08)
    )
    assert view.hold_s == 2.0 and not view.readable
    bench.do(0.0, 1.0)
    assert bench.engine.view.quiet and not bench.engine.view.in_band and not bench.engine.view.over
    bench.do(0.4, 1.0)
    view = bench.engine.view
    assert (view.phase, view.effort_s, view.held_s) == ("effort", 1.0, 1.0 - 2 * STEP_S)
    assert (
        view.activation == pytest.approx((0.4,), abs=0.02)
        and view.level == pytest.approx((0.4,))
        and view.in_band
        and not view.quiet
    )
    bench.do(0.6, 2 * STEP_S)
    view = bench.engine.view
    assert view.level == pytest.approx((0.5,)) and view.activation == pytest.approx((0.6,), rel=0.2)
    bench.do(0.6, STEP_S)
    assert bench.engine.view.over and not bench.engine.view.in_band
    bench.do(0.4, 2.0)
    bench.do(0.0, 2.0)
    view = bench.engine.view
    assert (view.phase, view.made, view.rep_number, view.last_verdict) == ("rest", 1, 2, "counted")
    assert view.held_s == view.effort_s == 0.0
    assert view.left_s == 3.0 - (bench.engine.now_s - bench.times(RestStarted)[0])


def test_the_view_of_a_pattern_and_of_two_muscles() -> None:
    track = Bench(kind="track", pattern=(0.0, 1.0, 0.5), hold_s=4.0, tolerance_pct_mvc=8.0)
    assert track.engine.view.pattern_target == 0.0
    track.do(0.0, 2.0 + 2 * STEP_S)
    track.do(0.0, 1.0)
    view = track.engine.view
    assert view.pattern_target == pytest.approx(0.4 * view.effort_s / 2.0)
    assert not view.over
    track.do(0.4, 4 * STEP_S)
    assert track.engine.view.over, "above the way, not above the target"
    two = Bench(kind="selective", channels=(0, 1), opposite_ceiling_pct_mvc=15.0)
    two.do(0.4, 1.0, 0.1)
    assert two.engine.view.opposite == pytest.approx(0.1) and two.engine.view.opposite_ceiling == 0.15
    assert two.engine.view.difference is None
    two = Bench(kind="paired", channels=(0, 1), difference_pct_mvc=10.0)
    two.do(0.4, 1.0, 0.1)
    assert two.engine.view.difference == pytest.approx(0.3) and two.engine.view.difference_limit == 0.1
    assert two.engine.view.opposite is None


def test_only_muscles_that_train_must_rest() -> None:
    for kind, phase in (("selective", "rest"), ("paired", "release")):
        bench = Bench(kind=kind, channels=(0, 1), opposite_ceiling_pct_mvc=90.0, difference_pct_mvc=60.0, sets=1)
        bench.do(0.0, 1.0)
        bench.do(0.4, 3.0, 0.4)
        for _ in range(16):
            told = bench.engine.step(Reading((0.0, 0.4), (False, True)))
            bench.told += [(bench.engine.now_s, event) for event in told]
        assert bench.engine.phase == phase


def test_retuning_within_the_range_and_its_note() -> None:
    bench = Bench(span=(30.0, 60.0))
    assert bench.engine.retune(40.0) == []
    assert bench.engine.retune(50.0) == [EffortRetuned(50.0, pytest.approx(40.0))] and bench.engine.note is None
    assert bench.engine.retune(35.0) == [EffortRetuned(35.0, 50.0)] and bench.engine.note == "easier"
    assert bench.engine.target_pct_mvc == pytest.approx(35.0)
    bench.do(0.0, 1.0)
    bench.do(0.4, 0.5)
    assert bench.engine.note is None, "told once"
    still = Bench(kind="relax", target_pct_mvc=5.0, quiet_pct_mvc=5.0, tolerance_pct_mvc=1.0, span=(2.0, 9.0))
    assert still.engine.retune(3.0) and still.engine.note is None, "a lower target of quiet is not easier"
    assert Bench(target_pct_mvc=90.0).engine.target_pct_mvc == 70.0, "never above the ceiling"


def test_what_cannot_be_read_stops_all_clocks() -> None:
    bench = Bench()
    bench.rep()
    bench.do(0.0, 2.0)
    left = bench.engine.view.left_s
    bench.do(0.0, 5.0, readable=False)
    assert bench.engine.view.left_s == left and bench.engine.view.phase == "rest"
    bench.do(float("nan"), 1.0)
    assert not bench.engine.view.readable and bench.engine.view.left_s == left
    bench.do(0.0, left)
    assert bench.engine.phase == "ready"
    bench.do(0.4, 1.0)
    bench.do(0.4, 0.25, readable=False)
    assert bench.reps()[-1].verdict == "unreadable" and bench.engine.view.last_verdict == "unreadable"


def test_breaking_off_judges_what_was_begun_and_a_rest_is_due() -> None:
    bench = Bench()
    assert bench.engine.interrupt() == []
    bench.do(0.0, 1.0)
    bench.do(0.4, 1.0)
    (missed,) = bench.engine.interrupt()
    assert isinstance(missed, RepMissed) and missed.rep.verdict == "short"
    bench.do(0.0, 1.0)
    assert bench.engine.phase == "rest"
    ended = bench.engine.give_up("stopped")
    assert [type(event) for event in ended] == [SetFinished, ExerciseFinished]
    assert bench.engine.give_up("stopped") == [] and bench.engine.done


def test_a_lost_sensor_makes_the_rep_unreadable() -> None:
    bench = Bench()
    bench.do(0.0, 1.0)
    bench.do(0.4, 1.0)
    told = bench.engine.give_up("sensor")
    assert isinstance(told[0], RepMissed) and told[0].rep.verdict == "unreadable"
    assert told[-1] == ExerciseFinished(0, "sensor")
    assert Bench().engine.give_up("stopped") == [ExerciseFinished(0, "stopped")], "no set was begun"


def test_a_level_at_the_bands_edge_is_work_even_where_no_contraction_is_seen() -> None:
    bench = Bench(target_pct_mvc=37.5, tolerance_pct_mvc=12.5)
    bench.do(0.0, 1.0)
    bench.do(0.25, 0.5, works=False)
    assert bench.engine.phase == "effort"
    below = Bench(target_pct_mvc=37.5, tolerance_pct_mvc=12.5)
    below.do(0.0, 1.0)
    below.do(0.2421875, 0.5, works=False)
    assert below.engine.phase == "ready"


def test_the_rest_that_is_left_is_shown_to_its_end() -> None:
    bench = Bench()
    bench.rep()
    bench.do(0.0, 3.0 - STEP_S - (bench.engine.now_s - bench.times(RestStarted)[0]))
    assert bench.engine.view.left_s == STEP_S and bench.engine.phase == "rest"


def test_quiet_is_counted_whole() -> None:
    """Of what begins by itself no quiet tail is taken off: quiet is what was asked."""
    bench = Bench(kind="relax", target_pct_mvc=5.0, quiet_pct_mvc=5.0, tolerance_pct_mvc=1.0)
    bench.do(0.0, 4.5)
    (rep,) = bench.reps()
    assert rep.verdict == "counted" and rep.held_s == rep.in_band_s == 2.0


def test_whoever_starts_late_is_waited_for_longer() -> None:
    bench = Bench(start_s=0.0)
    late = RepEngine(replace(PLAN, start_s=5.0), STEP_S)
    quiet = Reading((0.0,), (False,))
    for _ in range(round(31 / STEP_S)):
        late.step(quiet)
    bench.do(0.0, 31.0)
    assert len(bench.reps()) == 1 and late.view.last_verdict is None
    told = [event for _ in range(round(5 / STEP_S)) for event in late.step(quiet)]
    assert any(isinstance(event, RepMissed) for event in told)
