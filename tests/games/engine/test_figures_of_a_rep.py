"""Every figure of a repetition against a truth that is known: levels fed tick by tick, figures reckoned by hand.

Ticks are an eighth of a second and levels mostly binary fractions, so that sums are exact and an edge is an edge. Rise
is read between a fifth and four fifths of the peak, steadiness is 1 less the coefficient of variation (both usual in
the trade: common practice, no source); all limits of time are our choice and are named where they stand.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from musclewood.games.engine.judging import (
    PROFILE_POINTS,
    Aim,
    Attempt,
    HoldAttempt,
    PairedAttempt,
    QuickAttempt,
    RelaxAttempt,
    RestAttempt,
    SelectiveAttempt,
    TrackAttempt,
    aim_of,
)
from musclewood.profiles.plan.dose import PlannedExercise

STEP_S = 0.125
AIM = Aim(target=0.5, low=0.375, high=0.625, ceiling=0.75, hold_s=2.0, quiet=0.0625)


def fed(attempt: Attempt, levels: Sequence[float | tuple[float, float]]) -> Attempt:
    for level in levels:
        both = level if isinstance(level, tuple) else (level,)
        attempt.step(both, both)
    return attempt


def hold(levels: Sequence[float | tuple[float, float]], aim: Aim = AIM, before: Sequence[float] = ()) -> Attempt:
    return fed(HoldAttempt(aim, STEP_S, 8.0, before), levels)


def released(kind: type[Attempt], levels: Sequence[float | tuple[float, float]], **changes: Any) -> str:
    return fed(kind(replace(AIM, **changes), STEP_S, 0.0), levels).verdict_released()


# --- figures ------------------------------------------------------------------------------------------------------
def test_every_figure_of_a_hold() -> None:
    levels = [0.125, 0.25, 0.5, 0.625, 0.375, 0.5, 0.6875, 0.5, 0.25, 0.0625]
    others = [0.0, 0.0625, 0.125, 0.25, 0.1875, 0.125, 0.125, 0.0625, 0.5, 0.5]
    rep = hold(list(zip(levels, others, strict=True)), before=[0.0, 0.0625]).judged("short", 3, 4, tail_s=0.25)
    kept, earning = levels[:-2], [0.5, 0.625, 0.375, 0.5, 0.5]
    assert (rep.set_number, rep.rep_number, rep.verdict) == (3, 4, "short")
    assert (rep.onset_s, rep.offset_s, rep.held_s) == (8.0, 9.0, 1.0)
    assert rep.in_band_s == 5 * STEP_S
    assert rep.mean_pct_mvc == pytest.approx(100 * statistics.fmean(kept))
    assert rep.peak_pct_mvc == 68.75
    spread = statistics.pstdev(earning) / statistics.fmean(earning)
    assert rep.steadiness == pytest.approx(1 - spread) and 0.5 < rep.steadiness < 0.95
    # Before the onset 0 and 6.25, then 12.5, 25, 50, 62.5: a fifth of the peak is 13.75, four fifths are 55.
    assert rep.rise_pct_mvc_per_s == pytest.approx((62.5 - 12.5) / (3 * STEP_S))
    assert rep.opposite_mean_pct_mvc == pytest.approx(100 * statistics.fmean(others[:-2]))
    assert (rep.target_pct_mvc, rep.tolerance_pct_mvc) == (50.0, 12.5)
    assert rep.effort_profile == tuple(round(100 * value, 2) for value in kept)


def test_a_long_rep_has_a_profile_of_as_many_points_as_are_kept() -> None:
    levels = [n / 1024 for n in range(5 * PROFILE_POINTS)]
    profile = hold(levels).judged("short", 1, 1).effort_profile
    assert len(profile) == PROFILE_POINTS == 48
    assert profile == tuple(round(100 * (5 * n + 2) / 1024, 2) for n in range(48))
    assert len(hold([0.5] * 49).judged("short", 1, 1).effort_profile) == 48
    assert len(hold([0.5] * 47).judged("short", 1, 1).effort_profile) == 47


@pytest.mark.parametrize("per_tick", [1 / 64, 1 / 32, 1 / 16])
def test_a_straight_rise_has_its_slope(per_tick: float) -> None:
    levels = [per_tick * n for n in range(11)]
    rep = hold(levels).judged("short", 1, 1)
    assert rep.rise_pct_mvc_per_s == pytest.approx(100 * per_tick / STEP_S)


def test_the_edges_of_a_rise_belong_to_it() -> None:
    """A fifth and four fifths of the peak themselves are its ends: 0.125 and 0.5 of 0.625."""
    rep = hold([0.3125, 0.125, 0.25, 0.5, 0.625]).judged("short", 1, 1)
    assert rep.rise_pct_mvc_per_s == pytest.approx(100 * (0.5 - 0.125) / (2 * STEP_S))
    assert hold([0.0625, 0.625]).judged("short", 1, 1).rise_pct_mvc_per_s == pytest.approx(56.25 / STEP_S)


def test_a_rise_ends_where_four_fifths_are_first_reached() -> None:
    rep = hold([0.0, 0.5, 0.0, 0.25, 0.625, 0.0]).judged("short", 1, 1)
    assert rep.rise_pct_mvc_per_s == pytest.approx(100 * 0.5 / STEP_S)
    flat = hold([0.5, 0.5, 0.5]).judged("short", 1, 1)
    assert flat.rise_pct_mvc_per_s == 0.0
    assert hold([0.0, 0.0]).judged("weak", 1, 1).rise_pct_mvc_per_s == 0.0


def test_nothing_at_all_has_figures_too() -> None:
    rep = Attempt(AIM, STEP_S, 5.0).judged("weak", 1, 1)
    assert (rep.held_s, rep.in_band_s, rep.mean_pct_mvc, rep.peak_pct_mvc, rep.steadiness) == (0, 0, 0, 0, 0)
    assert rep.opposite_mean_pct_mvc is None and rep.offset_s == 5.0 and rep.effort_profile == (0.0,)


def test_a_wild_hold_is_not_less_than_unsteady() -> None:
    wild = replace(AIM, low=0.0, high=8.0, ceiling=9.0)
    assert hold([0.0] * 15 + [4.0], wild).judged("short", 1, 1).steadiness == 0.0
    assert hold([0.0] * 4, wild).judged("short", 1, 1).steadiness == 0.0


def test_in_band_is_never_longer_than_the_rep() -> None:
    rep = hold([0.5] * 8).judged("short", 1, 1, tail_s=0.5)
    assert rep.in_band_s == rep.held_s == 0.5
    assert hold([0.5] * 2).judged("short", 1, 1, tail_s=9.0).held_s == 0.0


# --- what earns ---------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("level", "earns"), [(0.374, False), (0.375, True), (0.625, True), (0.626, False)])
def test_the_edges_of_the_band_belong_to_it(level: float, earns: bool) -> None:
    assert HoldAttempt(AIM, STEP_S, 0.0).earns((level,)) is earns
    assert fed(PairedAttempt(AIM, STEP_S, 0.0), [(0.5, level)]).earned_s == earns * STEP_S
    assert fed(PairedAttempt(AIM, STEP_S, 0.0), [(level, 0.5)]).earned_s == earns * STEP_S


def test_each_tick_falls_into_one_pile() -> None:
    attempt = hold([0.25, 0.5, 0.5, 0.625, 0.6875, 0.75, 0.875, 0.375])
    assert attempt.below_s == STEP_S and attempt.earned_s == 4 * STEP_S and attempt.above_s == 3 * STEP_S
    assert attempt.elapsed_s == 8 * STEP_S and attempt.excess_s == STEP_S  # the ceiling itself is allowed


def test_the_opposite_muscle_spoils_only_what_else_would_earn() -> None:
    aim = {"opposite_ceiling": 0.25}
    attempt = fed(
        SelectiveAttempt(replace(AIM, **aim), STEP_S, 0.0),
        [(0.5, 0.25), (0.5, 0.3), (0.25, 0.5), (0.7, 0.5), (0.5, 0.0)],
    )
    assert (attempt.earned_s, attempt.spoilt_s) == (2 * STEP_S, STEP_S)
    assert (attempt.below_s, attempt.above_s) == (STEP_S, STEP_S)
    assert fed(SelectiveAttempt(AIM, STEP_S, 0.0), [(0.5, 0.9)]).earned_s == STEP_S, "no ceiling was ordered"


def test_unlike_sides_spoil_where_one_of_them_is_in_the_band() -> None:
    pairs = [
        (0.5, 0.375),
        (0.5, 0.25),
        (0.25, 0.5),
        (0.625, 0.375),
        (0.25, 0.0),
        (0.875, 0.5),
        (0.875, 0.875),
        (0.25, 0.25),
    ]
    attempt = fed(PairedAttempt(replace(AIM, difference=0.125), STEP_S, 0.0), pairs)
    assert attempt.earned_s == STEP_S
    assert attempt.spoilt_s == 4 * STEP_S
    assert (attempt.above_s, attempt.below_s) == (STEP_S, 2 * STEP_S)
    loose = fed(PairedAttempt(AIM, STEP_S, 0.0), [(0.5, 0.375), (0.5, 0.25), (0.5, 0.75), (0.25, 0.75)])
    assert (loose.earned_s, loose.spoilt_s, loose.above_s, loose.below_s) == (STEP_S, 0, 2 * STEP_S, STEP_S)


# --- verdicts -----------------------------------------------------------------------------------------------------
def test_a_hold_counts_at_its_last_tick_and_not_before() -> None:
    attempt = hold([0.5] * 15)
    assert attempt.verdict_now() is None
    assert fed(attempt, [0.5]).verdict_now() == "counted"
    odd = replace(AIM, hold_s=1.0 + STEP_S / 2)  # half a tick is not waited for
    assert hold([0.5] * 8, odd).verdict_now() == "counted"
    assert hold([0.5] * 8, replace(AIM, hold_s=1.0 + 0.6 * STEP_S)).verdict_now() is None


def test_above_the_ceiling_for_more_than_a_second_is_over() -> None:
    assert hold([0.875] * 8).verdict_now() is None
    assert hold([0.875] * 9).verdict_now() == "over"
    assert fed(QuickAttempt(replace(AIM, rise_s=5.0), STEP_S, 0.0), [0.875] * 8).verdict_now() is None
    assert fed(QuickAttempt(replace(AIM, rise_s=5.0), STEP_S, 0.0), [0.875] * 9).verdict_now() == "over"
    track = replace(AIM, pattern=(1.0, 1.0), hold_s=4.0)
    assert fed(TrackAttempt(track, STEP_S, 0.0), [0.875] * 8).verdict_now() is None
    assert fed(TrackAttempt(track, STEP_S, 0.0), [0.875] * 9).verdict_now() == "over"


def test_an_attempt_is_given_up_after_twice_the_hold_and_ten_seconds() -> None:
    attempt = hold([0.25] * 111)
    assert attempt.limit_s == 14.0 and attempt.verdict_now() is None
    assert fed(attempt, [0.25]).verdict_now() == "weak"


@pytest.mark.parametrize(
    ("levels", "verdict"),
    [
        ([], "weak"),
        ([0.25] * 4, "weak"),  # nothing earned at all, though the ramp would be forgiven
        ([0.5], "short"),
        ([0.5] + [0.25] * 5, "short"),  # 0.6 s below are the ramps
        ([0.5] + [0.25] * 6, "weak"),
        ([0.5, 0.75], "short"),  # as long above as in the band
        ([0.5] + [0.75] * 2, "over"),
        ([0.75], "over"),
        ([0.75] + [0.25] * 6, "weak"),
        ([0.75] + [0.25] * 5, "over"),
        ([0.75] * 2 + [0.25] * 6, "over"),
    ],
)
def test_what_ended_early_says_what_there_was_most_of(levels: list[float], verdict: str) -> None:
    assert released(HoldAttempt, levels) == verdict


@pytest.mark.parametrize(
    ("spoilt", "earned", "above", "below", "verdict"),
    [
        (1, 0, 0, 0, "compensated"), (2, 1, 0, 0, "compensated"), (1, 1, 0, 0, "short"), (2, 0, 2, 0, "over"),
        (3, 0, 2, 0, "compensated"), (1, 0, 0, 5, "compensated"), (1, 0, 0, 6, "weak"), (2, 0, 0, 6, "compensated"),
    ],
)  # fmt: skip
def test_the_other_muscle_is_named_where_it_spoilt_most(
    spoilt: int, earned: int, above: int, below: int, verdict: str
) -> None:
    levels = [(0.5, 0.5)] * spoilt + [(0.5, 0.0)] * earned + [(0.75, 0.0)] * above + [(0.25, 0.0)] * below
    assert released(SelectiveAttempt, levels, opposite_ceiling=0.25) == verdict


@pytest.mark.parametrize(("hold_s", "ticks"), [(0.5, 0), (1.0, 0), (2.0, 1), (4.0, 3), (5.0, 4), (20.0, 4)])
def test_a_tenth_of_the_hold_may_be_missing(hold_s: float, ticks: int) -> None:
    """At least 0.1 s, at most half a second (our choice)."""
    for kind in (HoldAttempt, QuickAttempt, RelaxAttempt, RestAttempt, TrackAttempt):
        attempt = kind(replace(AIM, hold_s=hold_s, pattern=(1.0, 1.0)), STEP_S, 0.0)
        for _ in range(ticks):
            attempt.lose()
        assert attempt.verdict_now() is None
        attempt.lose()
        assert attempt.verdict_now() == "unreadable"
        assert attempt.elapsed_s == attempt.lost_s == (ticks + 1) * STEP_S


# --- quick --------------------------------------------------------------------------------------------------------
QUICK = replace(AIM, hold_s=0.25, rise_s=0.5)


def quick(levels: Sequence[float], aim: Aim = QUICK, before: Sequence[float] = ()) -> QuickAttempt:
    attempt = QuickAttempt(aim, STEP_S, 0.0, before)
    fed(attempt, levels)
    return attempt


def test_the_time_of_a_quick_rise_runs_from_the_last_rest() -> None:
    assert quick([0.5]).rise_took_s == STEP_S, "nothing was seen before it"
    assert quick([0.25, 0.5], before=[0.0]).rise_took_s == 2 * STEP_S
    assert quick([0.25, 0.375], before=[0.0, 0.075]).rise_took_s == 2 * STEP_S, "a fifth of the edge is rest"
    assert quick([0.25, 0.5], before=[0.0, 0.09]).rise_took_s == 3 * STEP_S
    assert quick([0.25, 0.36]).rise_took_s is None
    assert quick([0.5, 0.0, 0.5]).rise_took_s == STEP_S, "the first rise is the rise"


@pytest.mark.parametrize(
    ("levels", "verdict"),
    [
        ([0.5, 0.5, 0.0], "counted"),
        ([0.25, 0.25, 0.25, 0.5, 0.5], "counted"),
        ([0.25, 0.25, 0.25, 0.25, 0.5, 0.5], "weak"),
        ([0.25, 0.25], "weak"),
        ([0.5], "short"),
        ([0.5, 0.75], "short"),
        ([0.5, 0.75, 0.75], "over"),
    ],
)
def test_a_quick_rep_is_judged_by_rise_and_hold(levels: list[float], verdict: str) -> None:
    assert quick(levels, before=[0.0]).verdict_released() == verdict


def test_a_quick_rep_must_be_let_go() -> None:
    """After the rise, twice the hold and 1.5 s."""
    attempt = quick([0.5] * 19)
    assert attempt.limit_s == 2.5 and attempt.verdict_now() is None
    assert fed(attempt, [0.5]).verdict_now() == "not relaxed"
    assert quick([0.25] * 20).verdict_now() == "weak"


def test_a_quick_rep_is_judged_by_the_sensors_own_value() -> None:
    attempt = QuickAttempt(QUICK, STEP_S, 0.0)
    attempt.step((0.5,), (0.0,))
    assert attempt.earned_s == STEP_S and attempt.rise_took_s == STEP_S


# --- patterns -----------------------------------------------------------------------------------------------------
TRACK = replace(AIM, hold_s=2.0, pattern=(0.0, 1.0, 0.5))


@pytest.mark.parametrize(
    ("time_s", "asked"), [(0.0, 0.0), (0.5, 0.25), (1.0, 0.5), (1.5, 0.375), (2.0, 0.25), (9.0, 0.25)]
)
def test_a_pattern_lies_evenly_over_the_hold(time_s: float, asked: float) -> None:
    assert TRACK.pattern_at(time_s) == pytest.approx(asked)


def track(levels: Sequence[float], aim: Aim = TRACK) -> Attempt:
    return fed(TrackAttempt(aim, STEP_S, 0.0), levels)


def test_following_takes_the_judges_delay_off() -> None:
    """The short average looks back an eighth of a second: the first tick is compared with the very beginning."""
    ways = [TRACK.pattern_at(STEP_S * n) for n in range(16)]
    exact = track(ways)
    assert exact.verdict_now() == "counted" and exact.earned_s == 2.0
    assert exact.judged("counted", 1, 1).steadiness == pytest.approx(1.0)
    edge = track([way + 0.125 for way in ways])
    assert edge.earned_s == 2.0
    assert track([way + 0.126 for way in ways]).above_s == 2.0
    assert track([way - 0.126 for way in ways]).below_s == 2.0


def test_a_pattern_is_judged_when_its_time_is_over() -> None:
    flat = replace(AIM, hold_s=2.5, pattern=(1.0, 1.0))
    assert track([0.5] * 19, flat).verdict_now() is None and track([0.5] * 20, flat).verdict_now() == "counted"
    assert track([0.5] * 14 + [0.25] * 6, flat).verdict_now() == "counted", "seven tenths are enough"
    assert track([0.5] * 13 + [0.25] * 7, flat).verdict_now() == "short"
    assert track([0.5] * 10 + [0.25] * 10, flat).verdict_now() == "short"
    assert track([0.5] * 9 + [0.25] * 11, flat).verdict_now() == "weak"
    assert track([0.5] * 9 + [0.7] * 11, flat).verdict_now() == "over"
    assert track([0.25] * 10 + [0.7] * 10, flat).verdict_now() == "weak"
    assert track([0.25] * 9 + [0.7] * 11, flat).verdict_now() == "over"


def test_whoever_does_nothing_follows_no_pattern() -> None:
    low = replace(AIM, target=0.0625, low=0.0, high=0.125, hold_s=2.0, pattern=(1.0, 1.0))
    assert track([0.05] * 16, low).verdict_now() == "weak", "at 5 %MVC nobody works"
    assert track([0.05] * 15 + [0.0625], low).verdict_now() == "counted"


# --- quiet --------------------------------------------------------------------------------------------------------
def relax(levels: Sequence[float], hold_s: float = 2.0) -> Attempt:
    return fed(RelaxAttempt(replace(AIM, hold_s=hold_s), STEP_S, 0.0), levels)


def test_quiet_counts_in_one_piece() -> None:
    assert relax([0.0625] * 15).verdict_now() is None and relax([0.0625] * 16).verdict_now() == "counted"
    stirred = relax([0.0] * 8 + [0.25] * 4)
    assert stirred.earned_s == 1.0 and stirred.above_s == 0.5, "half a second is forgiven"
    assert fed(stirred, [0.0] * 4 + [0.25] * 4).earned_s == 1.5, "and another, later"
    longer = relax([0.0] * 8 + [0.25] * 5)
    assert longer.earned_s == 0.0
    assert longer.judged("short", 1, 1).steadiness == 0.0
    assert longer.verdict_released() == "short"


def test_quiet_is_given_up_after_three_holds_and_ten_seconds() -> None:
    assert relax([0.25] * 127).verdict_now() is None and relax([0.25] * 128).verdict_now() == "not relaxed"


def test_quiet_has_its_steadiness() -> None:
    levels = [0.0, 0.0625, 0.03125, 0.0]
    still = [1 - level for level in levels]
    wanted = 1 - statistics.pstdev(still) / statistics.fmean(still)
    assert relax(levels).judged("short", 1, 1).steadiness == pytest.approx(wanted)


def test_a_contraction_in_rest_never_counts() -> None:
    attempt = fed(RestAttempt(AIM, STEP_S, 0.0), [0.5] * 111)
    assert attempt.verdict_now() is None and attempt.verdict_released() == "not relaxed"
    assert fed(attempt, [0.5]).verdict_now() == "not relaxed"


@pytest.mark.parametrize(("level", "idle"), [(0.0, True), (0.05, True), (0.06, False)])
def test_five_percent_is_nothing(level: float, idle: bool) -> None:
    assert hold([0.0, level, 0.0]).idle is idle
    assert Attempt(AIM, STEP_S, 0.0).idle


# --- four figures together ----------------------------------------------------------------------------------------
def test_figures_of_many_reps_agree_with_plain_reckoning() -> None:
    """Two hundred random efforts, each figure reckoned a second way from the same levels."""
    chance = np.random.default_rng(11)
    for _ in range(200):
        levels = chance.uniform(0.0, 0.9, size=chance.integers(2, 60))
        others = chance.uniform(0.0, 0.5, size=levels.size)
        rep = hold(list(zip(levels.tolist(), others.tolist(), strict=True))).judged("short", 1, 1)
        inside = levels[(levels >= 0.375) & (levels <= 0.625)]
        assert rep.mean_pct_mvc == pytest.approx(100 * levels.mean())
        assert rep.peak_pct_mvc == pytest.approx(100 * levels.max())
        assert rep.opposite_mean_pct_mvc == pytest.approx(100 * others.mean())
        assert rep.in_band_s == pytest.approx(inside.size * STEP_S)
        wanted = 1 - inside.std() / inside.mean() if inside.size else 0.0
        assert rep.steadiness == pytest.approx(max(wanted, 0.0))
        top = next(n for n, level in enumerate(levels) if level >= 0.8 * levels.max())
        foot = max((n for n in range(top + 1) if levels[n] <= 0.2 * levels.max()), default=0)
        slope = (levels[top] - levels[foot]) / (max(1, top - foot) * STEP_S)
        assert rep.rise_pct_mvc_per_s == pytest.approx(100 * slope)


# --- from the plan ------------------------------------------------------------------------------------------------
def test_the_aim_is_the_plan_in_fractions() -> None:
    plan = PlannedExercise("a", "hold", "A", ("kiln",), (0,), 1, 1, 2.0, 3.0, 4.0, 40.0, 10.0, 70.0, 8.0)
    aim = aim_of(plan, 45.0)
    assert (aim.target, aim.low, aim.high, aim.ceiling, aim.quiet) == pytest.approx((0.45, 0.35, 0.55, 0.7, 0.08))
    assert (aim.hold_s, aim.rise_s, aim.opposite_ceiling, aim.difference, aim.at_least) == (2.0, 0.5, None, None, False)
    assert aim_of(plan, 65.0).high == pytest.approx(0.7), "no band reaches above the ceiling"
    two = aim_of(replace(plan, rise_s=0.9, opposite_ceiling_pct_mvc=20.0, difference_pct_mvc=30.0), 40.0)
    assert (two.rise_s, two.opposite_ceiling, two.difference) == pytest.approx((0.9, 0.2, 0.3))
    open_above = aim_of(replace(plan, asks="at least", tolerance_pct_mvc=0.0), 40.0)
    assert (open_above.low, open_above.high, open_above.at_least) == (0.4, 0.7, True)
    assert aim_of(replace(plan, asks="at least"), 40.0).low == 0.4, "a width has no meaning there"
    assert hold([0.5], open_above).judged("short", 1, 1).tolerance_pct_mvc == 0.0


def test_small_edges() -> None:
    nothing_kept = hold([(0.5, 0.5)] * 2).judged("short", 1, 1, tail_s=1.0)
    assert nothing_kept.opposite_mean_pct_mvc == 0.0 == nothing_kept.mean_pct_mvc
    assert fed(PairedAttempt(AIM, STEP_S, 0.0), [(0.625, 0.25)]).below_s == STEP_S
    odd = replace(QUICK, hold_s=0.25 + STEP_S / 2)
    assert quick([0.5, 0.5], odd).verdict_released() == "counted", "half a tick is not waited for"
    assert quick([0.5, 0.5], replace(QUICK, hold_s=0.25 + 0.6 * STEP_S)).verdict_released() == "short"
    half = replace(AIM, hold_s=2.0 + STEP_S / 2, pattern=(1.0, 1.0))
    assert track([0.5] * 15, half).verdict_now() is None and track([0.5] * 16, half).verdict_now() == "counted"
    astray = [0.5, 0.5625, 0.4375, 0.5]
    near = [1 - abs(level - 0.5) for level in astray]
    wanted = 1 - statistics.pstdev(near) / statistics.fmean(near)
    assert track(astray, half).judged("short", 1, 1).steadiness == pytest.approx(wanted, abs=1e-9)
