"""The recent maximum: its interval holds the truth, and chance is not called change."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from musclewood.profiles.plan.recent_mvc import (
    PLACEMENT_CV,
    TRIAL_CV,
    WANDER_PER_ROOT_DAY,
    Measured,
    change,
    follow,
    reference_for_today,
)

START = datetime(2026, 11, 2, 17, tzinfo=UTC)
NOISE_SD = math.sqrt(math.log1p(PLACEMENT_CV**2) + math.log1p(TRIAL_CV**2))


def measured(values: list[float], days_apart: float = 2.0) -> list[Measured]:
    return [Measured(START + timedelta(days=days_apart * number), value) for number, value in enumerate(values)]


def test_one_measurement_is_its_own_estimate() -> None:
    (only,) = follow(measured([180.0]))
    assert only.estimate_uv == pytest.approx(180.0)
    assert math.log(only.high_uv / only.estimate_uv) == pytest.approx(1.96 * NOISE_SD, rel=1e-3)


def test_a_lucky_day_moves_the_estimate_only_a_little() -> None:
    steady = follow(measured([180.0] * 8))[-1]
    after = follow(measured([180.0] * 8 + [360.0]))[-1]
    assert 180.0 < after.estimate_uv < 240.0
    assert steady.high_uv - steady.low_uv < 180.0 * 2 * 1.96 * NOISE_SD


def test_known_variances_give_the_textbook_gain() -> None:
    """Two measurements on the same day weigh alike: the estimate is their geometric mean."""
    both = follow(measured([100.0, 400.0], days_apart=0.0))[-1]
    assert both.estimate_uv == pytest.approx(200.0)
    assert both.log_variance == pytest.approx(NOISE_SD**2 / 2)


def test_the_interval_holds_the_truth_as_often_as_it_says(full: bool) -> None:
    dice = np.random.default_rng(95)
    people, held, total = 4000 if full else 300, 0, 0
    for _ in range(people):
        truth = math.log(150.0)
        series = []
        for number in range(12):
            truth += dice.normal(0, WANDER_PER_ROOT_DAY * math.sqrt(2.0)) if number else 0.0
            series.append((truth, math.exp(truth + dice.normal(0, NOISE_SD))))
        track = follow(measured([value for _, value in series]))
        held += sum(one.low_uv <= math.exp(true) <= one.high_uv for one, (true, _) in zip(track, series, strict=True))
        total += len(track)
    assert held / total == pytest.approx(0.95, abs=0.015)


def test_chance_is_called_change_no_more_often_than_one_time_in_twenty(full: bool) -> None:
    dice = np.random.default_rng(20)
    people = 20_000 if full else 2000
    found = [
        change(measured([float(value) for value in 150 * np.exp(dice.normal(0, NOISE_SD, 12))])) for _ in range(people)
    ]
    false = sum(one.real for one in found if one) / people
    assert false == pytest.approx(0.05, abs=0.015)


def test_a_muscle_that_doubles_is_called_changed() -> None:
    dice = np.random.default_rng(2)
    values = [float(150 * 2 ** (number / 11) * math.exp(dice.normal(0, NOISE_SD))) for number in range(12)]
    found = change(measured(values))
    assert found is not None and found.real and found.percent > 40 and found.sessions == 3


def test_the_detectable_change_of_two_sessions_is_weirs() -> None:
    """MDC95 = 1.96 * sqrt(2) * SEM = 2.771859 SEM (Weir 2005, J Strength Cond Res 19:231), on the log."""
    found = change(measured([150.0, 150.0]))
    assert found is not None
    assert math.log1p(found.detectable_percent / 100) == pytest.approx(2.771808 * NOISE_SD, rel=1e-4)
    assert change(measured([150.0])) is None and change([]) is None


def test_what_is_no_measurement_is_passed_over() -> None:
    assert follow(measured([math.nan, 0.0, -5.0, math.inf])) == []
    assert len(follow(measured([150.0, math.nan, 160.0]))) == 2


def test_a_clock_set_back_does_no_harm() -> None:
    track = follow([Measured(START, 150.0), Measured(START - timedelta(days=900), 160.0)])
    assert track[1].log_variance < track[0].log_variance


def test_todays_reference_follows_todays_electrodes() -> None:
    track = follow(measured([180.0] * 8))
    usual = reference_for_today(track, Measured(START + timedelta(days=16), 215.0))
    assert 205.0 < usual.estimate_uv < 215.0  # another place of the electrodes is believed
    lazy = reference_for_today(track, Measured(START + timedelta(days=16), 60.0))
    assert 60.0 < lazy.estimate_uv < 90.0  # somebody who hardly tried is lifted towards the past
    unsure = reference_for_today(track, Measured(START + timedelta(days=16), 60.0, cv=0.3))
    assert unsure.estimate_uv > lazy.estimate_uv
    first = reference_for_today([], Measured(START, 100.0))
    assert first.estimate_uv == pytest.approx(100.0) and first.low_uv < 100.0 < first.high_uv
