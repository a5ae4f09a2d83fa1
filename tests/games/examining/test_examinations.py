"""Tests of muscles led through the real chain by a simulated person whose truth is known."""

from __future__ import annotations

import math

import pytest
from musclewood.games.examining.examination import (
    Bounds,
    examine_ladder,
    examine_opposite,
    examine_reference,
    examine_sides,
)
from musclewood.games.examining.outcomes import again
from musclewood.games.examining.steps import Subject
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.profiles.visits.entries import LadderTest, MuscleTrials, OppositeTest, ReferenceTest, SidesTest
from musclewood.signal.measures.calibration import CalibrationSettings
from musclewood.signal.sources.simulated import ModelPatient

from tests.games.examining.conftest import Willing

LEFT = Subject("thigh", "Vastus medialis", "left", 0)
RIGHT = Subject("thigh-other", "Vastus medialis", "right", 1)
ON_ONE = Subject("thigh-other", "Vastus medialis", "right", 0)
QUICK = CalibrationSettings(rest_s=2.0, trials=2, trial_s=2.0, rest_between_s=2.0)
HOLD = PlannedExercise(
    "hold", "hold", "Hold", ("kiln",), (0, 1), 1, 1, 1.0, 2.0, 2.0, 30.0, 12.0, 80.0, 10.0
)  # fmt: skip


def without_first(tested: MuscleTrials) -> MuscleTrials:
    """As the bench sets a trial aside: it stays, with its reason. The first of those that count."""
    place = next(number for number, trial in enumerate(tested.trials) if trial.set_aside is None)
    trials = list(tested.trials)
    trials[place] = trials[place].model_copy(update={"set_aside": "moved"})
    return tested.model_copy(update={"trials": tuple(trials)})


def test_a_maximum_is_found_and_a_trial_can_be_rejected(willing: Willing) -> None:
    exam = examine_reference(LEFT, "maximum", QUICK, willing.step_s, Bounds(), willing.refer)
    willing.do(exam)
    found = exam.result
    assert isinstance(found, ReferenceTest) and exam.pain == [0, 0]
    assert found.reference_uv == pytest.approx(willing.source.true_mvc_uv[0], rel=0.2)
    fewer = again(found.model_copy(update={"found": without_first(found.found)}))
    assert isinstance(fewer, ReferenceTest) and len(fewer.found.used_uv) == len(found.found.used_uv) - 1
    assert fewer.reference_uv == pytest.approx(sum(fewer.found.used_uv) / len(fewer.found.used_uv))


@pytest.mark.parametrize("way", ["two channels", "moved sensor", "both at once"])
def test_both_sides_by_every_way(way: str) -> None:
    willing = Willing(ModelPatient(mvc_uv=(200.0, 400.0), placement_cv=0.0), seed=3)
    other = ON_ONE if way == "moved sensor" else RIGHT
    exam = examine_sides(LEFT, other, willing.step_s, Bounds(), way=way, rest_s=3.0)  # type: ignore[arg-type]
    took_s = willing.do(exam)
    found = exam.result
    assert isinstance(found, SidesTest), exam.note
    assert len(found.involved.trials) == len(found.uninvolved.trials) == 3
    if way == "moved sensor":
        assert found.deficit_pct == pytest.approx(0.0, abs=25.0)  # the same muscle twice: no side differs
    else:
        assert found.deficit_pct == pytest.approx(50.0, abs=8.0)
        assert found.low_pct < 50.0 < found.high_pct
    assert found.says == "left open" or found.low_pct > 0
    assert took_s >= 3 * 5.0


def test_a_maximum_that_is_unwise_is_refused(willing: Willing) -> None:
    with pytest.raises(ValueError, match="maximum"):
        examine_sides(LEFT, RIGHT, 0.004, Bounds(maximum_allowed=False), way="two channels")
    with pytest.raises(ValueError, match="maximum"):
        examine_reference(LEFT, "maximum", QUICK, 0.004, Bounds(maximum_allowed=False))
    with pytest.raises(ValueError, match="moved"):
        examine_sides(LEFT, RIGHT, 0.004, Bounds(), way="moved sensor")


def test_two_trials_a_side_are_the_least(willing: Willing) -> None:
    exam = examine_sides(LEFT, RIGHT, willing.step_s, Bounds(), way="both at once", rest_s=2.0)
    willing.do(exam)
    found = exam.result
    assert isinstance(found, SidesTest)
    one_less = again(found.model_copy(update={"involved": without_first(found.involved)}))
    assert isinstance(one_less, SidesTest)
    assert again(one_less.model_copy(update={"involved": without_first(one_less.involved)})) is None


def test_pain_at_the_level_ends_a_test_and_so_does_its_rise(willing: Willing) -> None:
    exam = examine_sides(LEFT, RIGHT, willing.step_s, Bounds(pain_stop=5), way="two channels", rest_s=2.0)
    willing.do(exam, pain=lambda number: (0, 5)[min(1, number)])
    assert exam.ended == "pain" and exam.result is None
    again = Willing()
    exam = examine_sides(LEFT, RIGHT, again.step_s, Bounds(pain_stop=9), way="two channels", rest_s=2.0)
    again.do(exam, pain=lambda number: number * 2)
    assert exam.ended == "pain" and exam.pain == [0, 2]


def test_a_stop_is_always_in_reach(willing: Willing) -> None:
    exam = examine_sides(LEFT, RIGHT, willing.step_s, Bounds(), way="two channels", rest_s=2.0)
    willing.do(exam, until=lambda: exam.shown.doing == "squeeze")
    exam.answer("stop")
    assert exam.ended == "stopped" and exam.shown.doing == "stopped" and exam.result is None


def test_the_opposite_is_watched_and_a_ceiling_proposed(willing: Willing) -> None:
    for subject in (LEFT, RIGHT):
        willing.do(examine_reference(subject, "maximum", QUICK, willing.step_s, Bounds()))
    uv = willing.source.true_mvc_uv
    willing.refer({0: (3.0, uv[0]), 1: (3.0, uv[1])})
    exam = examine_opposite(HOLD, LEFT, RIGHT, willing.step_s, Bounds())
    willing.do(exam)  # both muscles are given the same effort
    found = exam.result
    assert isinstance(found, OppositeTest)
    assert len(found.opposite_pct_mvc) == 3 and found.index_pct > 70.0
    assert found.ceiling_pct_mvc % 5 == 0 and found.ceiling_pct_mvc > max(found.opposite_pct_mvc)


def test_the_ladder_stays_in_its_bounds_and_falls_for_the_weak() -> None:
    proposals = []
    for most in (1.0, 0.2):
        willing = Willing(seed=5)
        uv = willing.source.true_mvc_uv
        willing.refer({0: (3.0, uv[0]), 1: (3.0, uv[1])})
        willing.most_effort = most
        exam = examine_ladder(HOLD, LEFT, (15.0, 50.0), willing.step_s, Bounds())
        willing.do(exam)
        found = exam.result
        assert isinstance(found, LadderTest), exam.note
        assert 1 <= len(found.holds) <= 12 and found.ended == "enough"
        assert max(willing.asked) <= 0.50 + 0.12 + 1e-9
        assert found.target_pct_mvc is not None and 15.0 <= found.target_pct_mvc <= 50.0
        proposals.append(found.target_pct_mvc)
    assert proposals[1] < proposals[0] - 8 and not math.isclose(*proposals)


def test_a_ladder_that_hurts_stops_and_proposes_nothing(willing: Willing) -> None:
    uv = willing.source.true_mvc_uv
    willing.refer({0: (3.0, uv[0]), 1: (3.0, uv[1])})
    exam = examine_ladder(HOLD, LEFT, (15.0, 50.0), willing.step_s, Bounds(pain_stop=4))
    willing.do(exam, pain=lambda number: 4 if number else 0)
    found = exam.result
    assert isinstance(found, LadderTest)
    assert found.ended == "pain" and len(found.holds) == 4 and found.target_pct_mvc is None
