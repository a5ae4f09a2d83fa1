"""Both sides and the ladder in numbers, against a published range and a published procedure; in
full in `tests/bench`."""

from __future__ import annotations

from tests.bench.first_visit import ladders, sides


def test_the_interval_covers_what_it_says(full: bool) -> None:
    """Placement CV 9 to 36 % (Norcross 2010); 95 % of 2,000 tests, give or take three standard errors."""
    coverage, says, wrong = sides(2000 if full else 400)
    assert 0.93 <= coverage <= 0.97 if full else 0.91 <= coverage <= 0.98
    assert says["left open"] > says["weaker"] > 0  # one visit seldom settles it
    assert wrong <= 0.025


def test_the_ladder_does_better_than_a_weighted_staircase(full: bool) -> None:
    """Kaernbach 1991 with as many holds of the same people; the figures in full are the benchmark's."""
    found = ladders(500 if full else 30)
    assert found["courses of the holds"] >= found["weighted up-down"] + 0.1
    assert found["courses of the holds"] >= found["skill model"]
    assert found["courses of the holds"] >= (0.68 if full else 0.6)
