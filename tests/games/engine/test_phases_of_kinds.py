"""What each kind of exercise does otherwise on its way from phase to phase, and closed doors."""

from __future__ import annotations

import pytest
from musclewood.games.engine.rep_events import (
    RestStarted,
)

from tests.games.engine.walk import STEP_S, Walk, resting


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
