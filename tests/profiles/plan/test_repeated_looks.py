"""Bounds that hold however often somebody looks: against laws that are counted out, and against published quantiles."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from musclewood.profiles.plan.repeated_looks import EVER_WRONG, LOOK_EVERY, side_bounds, spent_by, trend_bounds
from scipy.stats import kendalltau, wilcoxon


def kendall(values: tuple[float, ...]) -> int:
    return sum(int(np.sign(later - earlier)) for earlier, later in itertools.combinations(values, 2))


def test_bounds_are_those_worked_out_by_hand_for_eighteen_sessions() -> None:
    """Exact bounds 28, 38, 49, 59, 118, 250, 576, each widened by a tenth and rounded up to what S can be."""
    bounds = trend_bounds(range(1, 61))
    assert {number: bounds[number] for number in (9, 12, 15, 18, 24, 36, 60)} == {
        9: 32, 12: 42, 15: 55, 18: 65, 24: 130, 36: 276, 60: 634,
    }  # fmt: skip
    assert 6 not in bounds, "fifteen pairs cannot show anything so early"
    assert side_bounds(18) == {6: 18, 9: 28, 12: 40, 15: 53, 18: 65}


def test_the_first_look_is_as_rare_as_the_textbooks_exact_test_says() -> None:
    """Kendall's exact test (scipy) at the bound of the first look: no more likely than what may be spent by then."""
    bounds = trend_bounds(range(1, 10), planned=9)
    first = min(bounds)
    order = list(range(first))
    while kendall(tuple(order)) > bounds[first]:  # the nearest ranking at the bound, one swap at a time
        place = next(place for place in range(first - 1) if order[place] < order[place + 1])
        order[place], order[place + 1] = order[place + 1], order[place]
    exact = kendalltau(range(first), order, method="exact").pvalue
    assert exact <= spent_by(first, 9, 3)


def test_signed_ranks_are_as_rare_as_wilcoxons() -> None:
    """Ranked one after the other, signed ranks have the law of Wilcoxon's test (scipy, exact) at a single look."""
    (number, bound), *_ = side_bounds(6, planned=6).items()
    total = sum(range(1, number + 1))
    smaller = (total - bound) / 2  # sum of the ranks on the rarer side
    differences = [-(rank) if rank == smaller else rank for rank in range(1, number + 1)]
    if smaller == 0:
        differences = list(range(1, number + 1))
    assert wilcoxon(differences, method="exact").pvalue <= spent_by(number, 6, 2)


def test_all_looks_together_are_wrong_no_more_than_promised() -> None:
    """Every order of seven sessions that could be, counted: the law of the statistic needs no scatter at all."""
    bounds = trend_bounds(range(1, 7), planned=6)
    ever = sum(
        any(abs(kendall(order[:number])) >= bound for number, bound in bounds.items())
        for order in itertools.permutations(range(6))
    )
    assert ever / 720 <= EVER_WRONG


def test_what_is_spent_never_reaches_the_promise() -> None:
    for planned in (6, 18, 60):
        spent = [spent_by(number, planned, 3) for number in range(1, 2000)]
        assert spent == sorted(spent) and spent[-1] < EVER_WRONG


def test_bounds_never_depend_on_what_comes_later() -> None:
    """An order looked at today is looked at by the same bounds tomorrow."""
    long = trend_bounds(range(1, 100))
    for number in (18, 33, 61):
        assert trend_bounds(range(1, number + 1)) == {at: one for at, one in long.items() if at <= number}
    assert set(long) <= set(range(LOOK_EVERY, 100, LOOK_EVERY))


@pytest.mark.parametrize("planned", [6, 12, 18, 40])
def test_two_sensors_share_one_promise(planned: int, full: bool) -> None:
    """Pairs across sensors never count; still no more than one stable muscle in twenty is claimed."""
    ranks = [*range(1, 11), *range(1, 15)]
    series = np.array([0] * 10 + [1] * 14)
    bounds, dice = trend_bounds(ranks, planned), np.random.default_rng(planned)
    people = 20_000 if full else 1500
    wrong = 0
    for _ in range(people):
        values = dice.normal(size=24) + 5 * series
        sign = np.triu(np.sign(values[None, :] - values[:, None]) * (series[None, :] == series[:, None]))
        wrong += any(abs(sign[:at, :at].sum()) >= bound for at, bound in bounds.items())
    assert wrong / people <= EVER_WRONG + 3 * (0.05 * 0.95 / people) ** 0.5
