"""The recent maximum: its interval holds the truth, and chance is not called change, however often somebody looks."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from musclewood.profiles.plan.recent_mvc import Measured, change, follow, lag_one, reference_for_today
from musclewood.profiles.plan.side_ratio import BothSides, side_ratio
from scipy.optimize import brentq
from scipy.stats import norm, theilslopes

START = datetime(2026, 11, 2, 17, tzinfo=UTC)
APART = 7 / 3
# Published within-person coefficients of variation of a surface EMG MVC (Norcross 2010).
LOWEST_CV, HIGHEST_CV = 0.09, 0.36


def measured(values: list[float], days_apart: float = APART, sensor: str = "") -> list[Measured]:
    return [
        Measured(START + timedelta(days=days_apart * number), float(value), None, sensor)
        for number, value in enumerate(values)
    ]


def scattered(dice: np.random.Generator, number: int, cv: float, gain: float = 0.0) -> list[float]:
    course = math.log1p(gain) * np.arange(number) / max(1, number - 1)
    return list(150 * np.exp(course + dice.normal(0, math.sqrt(math.log1p(cv * cv)), number)))


def test_one_measurement_is_its_own_estimate_and_says_how_little_it_knows() -> None:
    (only,) = follow(measured([180.0]))
    assert only.estimate_uv == pytest.approx(180.0)
    # The quantile of a mixture of normals, by scipy: every scatter from 5 to 60 % is as likely (our choice).
    scatters = np.geomspace(0.05, 0.60, 12)
    wanted = math.exp(brentq(lambda far: float(np.mean(norm.cdf(far / scatters))) - 0.975, 0.0, 3.0))
    assert only.high_uv / only.estimate_uv == pytest.approx(wanted, rel=1e-6)
    assert only.estimate_uv / only.low_uv == pytest.approx(wanted, rel=1e-6)
    # A single value must allow for the top of the published range, a CV of 36 % within a person (Norcross 2010): nine
    # in ten of those lie within.
    assert wanted > math.exp(1.645 * math.sqrt(math.log(1 + 0.36**2)))


def test_a_lucky_day_moves_the_estimate_only_a_little() -> None:
    dice = np.random.default_rng(8)
    after = follow(measured([*scattered(dice, 8, 0.18), 360.0]))[-1]
    assert 150.0 < after.estimate_uv < 260.0


def test_the_scatter_is_the_patients_own() -> None:
    """The same estimate is sure for one whose days agree, and unsure for one whose days do not."""
    dice = np.random.default_rng(3)
    calm, wild = (follow(measured(scattered(dice, 18, cv)))[-1] for cv in (0.07, 0.40))
    assert calm.scatter < 0.12 and 0.3 < wild.scatter < 0.5
    assert wild.high_uv / wild.low_uv > 1.3 * calm.high_uv / calm.low_uv


def test_the_interval_holds_the_truth_as_often_as_it_says(full: bool) -> None:
    """Scatter drawn from the published range, muscles that stay or grow by up to 100 %, after 6, 12 and 18 days."""
    dice = np.random.default_rng(95)
    people, held = 3000 if full else 250, 0
    for _ in range(people):
        cv = math.exp(dice.uniform(math.log(LOWEST_CV), math.log(HIGHEST_CV)))
        gain = float(dice.choice([0.0, 0.3, 0.6, 1.0]))
        track = follow(measured(scattered(dice, 18, cv, gain)))
        for number in (6, 12, 18):
            truth = 150 * (1 + gain) ** ((number - 1) / 17)
            held += track[number - 1].low_uv <= truth <= track[number - 1].high_uv
    assert held / (3 * people) == pytest.approx(0.96, abs=0.025)


@pytest.mark.parametrize("cv", [0.05, 0.18, 0.50])
@pytest.mark.parametrize("looks", [18, 60])
def test_chance_is_hardly_ever_called_change(cv: float, looks: int, full: bool) -> None:
    dice = np.random.default_rng(20)
    people = 5000 if full else 120
    seen = [change(measured(scattered(dice, looks, cv))) for _ in range(people)]
    assert sum(one.real for one in seen if one) / people <= 0.05


def test_a_claim_stays_with_its_day_and_grows_from_nothing_that_came_later() -> None:
    dice = np.random.default_rng(4)
    values = measured([*scattered(dice, 18, 0.12, 1.0), *scattered(dice, 24, 0.12)])
    claims = [change(values[:number]) for number in range(2, len(values) + 1)]
    real = [one.real for one in claims if one]
    first = real.index(True)
    assert all(real[first:]) and not any(real[:first])
    days = {one.since for one in claims if one and one.real}
    assert days == {values[first + 1].at.date()} and all(one.risen for one in claims if one and one.real)


def test_a_muscle_that_doubles_is_found() -> None:
    """As often as promised: +100 % at a CV of 9 % nearly always."""
    dice = np.random.default_rng(2)
    seen = [change(measured(scattered(dice, 18, 0.09, 1.0))) for _ in range(100)]
    assert sum(one.real for one in seen if one) >= 99
    assert np.median([one.percent for one in seen if one]) == pytest.approx(100, abs=8)


def test_the_slope_is_that_of_theil_and_sen() -> None:
    """The same as scipy's, which takes the median of all pairs' slopes (Sen 1968)."""
    dice = np.random.default_rng(5)
    values = scattered(dice, 18, 0.2, 0.5)
    seen = change(measured(values))
    slope = theilslopes(np.log(values), np.arange(18)).slope
    assert seen is not None and seen.percent == pytest.approx(100 * math.expm1(17 * slope))


def test_the_interval_leaves_nothing_out_when_and_only_when_there_is_a_claim() -> None:
    dice = np.random.default_rng(6)
    for gain in (0.0, 0.4, 0.8):
        for _ in range(30):
            values = measured(scattered(dice, 18, 0.18, gain))
            before, seen = change(values[:15]), change(values)
            assert seen is not None and before is not None
            assert seen.low_percent is not None and seen.high_percent is not None
            if not before.real:
                assert seen.real == (seen.low_percent > 0 or seen.high_percent < 0)


def test_before_the_first_look_that_could_show_anything_nothing_is_said() -> None:
    seen = change(measured([150.0, 300.0, 450.0, 600.0]))
    assert seen is not None and not seen.real and (seen.low_percent, seen.high_percent) == (None, None)
    assert change(measured([150.0])) is None and change([]) is None


def test_one_day_is_one_look() -> None:
    """Calibrations of one day share the electrodes' place: as several looks they would claim far too much."""
    days = measured([150.0, 170.0, 160.0])
    doubled = [one for day in days for one in (day, Measured(day.at + timedelta(minutes=9), day.mvc_uv))]
    assert [round(one.estimate_uv, 6) for one in follow(doubled)] == [round(one.estimate_uv, 6) for one in follow(days)]
    assert len(follow(doubled)) == 3


def test_the_latest_days_alone_are_estimated_alike() -> None:
    days = [*measured(scattered(np.random.default_rng(4), 9, 0.2)), *measured([400.0, 420.0], sensor="b")]
    whole = follow(days)
    assert follow(days, latest=1) == whole[-1:] and follow(days, latest=4) == whole[-4:] and follow([], latest=1) == []


def test_another_sensor_is_another_series() -> None:
    old, new = measured([150.0 + number % 2 for number in range(12)], sensor="a"), []
    for number in range(12):
        at = START + timedelta(days=APART * (12 + number))
        new.append(Measured(at, 600.0 + number % 2, None, "b"))
    seen = change([*old, *new])
    assert seen is not None and not seen.real and abs(seen.percent) < 1
    known, alone = follow([*old, *new]), follow(new)
    assert known[12:] == alone, "nothing is known of the new one"
    assert known[12].high_uv / known[12].low_uv > 3 * known[11].high_uv / known[11].low_uv


def test_what_is_no_measurement_is_passed_over() -> None:
    assert follow(measured([math.nan, 0.0, -5.0, math.inf])) == []
    assert len(follow(measured([150.0, math.nan, 160.0]))) == 2


def test_a_clock_set_back_does_no_harm() -> None:
    back = [Measured(START, 150.0), Measured(START - timedelta(days=900), 160.0)]
    assert follow(back)[1].log_variance < follow(back)[0].log_variance
    seen = change(back)
    assert seen is not None and seen.percent == pytest.approx(100 * (160 / 150 - 1))


def test_todays_reference_follows_todays_electrodes() -> None:
    dice = np.random.default_rng(7)
    track = follow(measured([180.0 * share for share in np.exp(dice.normal(0, 0.18, 8))]))
    usual = reference_for_today(track, Measured(START + timedelta(days=16), 215.0))
    assert 200.0 < usual.estimate_uv < 216.0  # another place of the electrodes is believed
    lazy = reference_for_today(track, Measured(START + timedelta(days=16), 60.0))
    assert 60.0 < lazy.estimate_uv < 90.0  # somebody who hardly tried is lifted towards the past
    unsure = reference_for_today(track, Measured(START + timedelta(days=16), 60.0, cv=0.3))
    assert unsure.estimate_uv > lazy.estimate_uv
    first = reference_for_today([], Measured(START, 100.0))
    assert first.estimate_uv == pytest.approx(100.0) and first.low_uv < 100.0 < first.high_uv


def test_how_alike_days_are_is_measured_without_leaning_to_either_side() -> None:
    dice = np.random.default_rng(9)
    # A fitted line takes some of a true correlation with it: .3 reads as .2 over 18 days.
    for correlation, low, high in ((0.0, -0.05, 0.05), (0.3, 0.17, 0.30)):
        parts = []
        for _ in range(400):
            noise = dice.normal(0, 0.2, 18)
            for place in range(1, 18):
                noise[place] = correlation * noise[place - 1] + math.sqrt(1 - correlation**2) * noise[place]
            parts.append(lag_one(measured(list(150 * np.exp(noise + 0.03 * np.arange(18))))))
        found = sum(part[0] for part in parts if part) / sum(part[1] for part in parts if part)
        assert low < found < high
    assert lag_one(measured([1.0, 2.0, 3.0])) is None


def test_sides_are_settled_only_by_what_survives_repeated_looks(full: bool) -> None:
    dice, people, wrong, held = np.random.default_rng(11), 2000 if full else 120, 0, 0
    for _ in range(people):
        cv = math.exp(dice.uniform(math.log(LOWEST_CV), math.log(HIGHEST_CV)))
        days = [
            BothSides(START + timedelta(days=APART * number), 0.9 * one, other)
            for number, (one, other) in enumerate(zip(scattered(dice, 18, cv), scattered(dice, 18, cv), strict=True))
        ]
        seen = side_ratio(days)
        assert seen is not None
        wrong += seen.settled is not None
        held += seen.low <= 90 <= seen.high
    assert wrong / people <= 0.05 + 3 * (0.05 * 0.95 / people) ** 0.5
    assert held / people >= 0.93


def test_a_side_far_below_is_settled_and_keeps_its_day() -> None:
    days = [BothSides(START + timedelta(days=APART * number), 50.0 + number % 3, 100.0) for number in range(30)]
    seen, early = side_ratio(days), side_ratio(days[:1])
    assert seen is not None and (seen.settled, seen.since) == ("below", date(2026, 11, 28))
    assert early is not None and early.settled is None and early.high > 2 * early.index
