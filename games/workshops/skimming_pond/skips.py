"""How a stone skips: how often, how far, and when it touches. Pure numbers, no drawing.

The brisker the effort rose, the more often the stone touches and the further it goes. A way over the water is a share
0 (at the landing stage) to 1 (under the far bank).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from musclewood.games.engine.shelf import Product

FEWEST, MOST = 3, 10  # touches; even the gentlest stone that counts has a few (our choice)
BRISK_PER_S = 5.0  # rise as a multiple of the target per second that brings 63 % of the way up to MOST; our choice
FLIGHT_S = 0.5  # from the hand to the first touch
FIRST_HOP_S, HOP_FADES = 0.3, 0.86  # each hop is shorter than the one before
NEAREST, FURTHEST = 0.34, 1.0  # where the last touch of the fewest and of the most lies
GAP_FADES = 0.84


@dataclass(frozen=True)
class Way:
    """The touches of one stone: `shares` over the water and `times_s` after it left the hand, both rising."""

    shares: tuple[float, ...]
    times_s: tuple[float, ...]

    @property
    def end_s(self) -> float:
        return self.times_s[-1]

    def at(self, age_s: float) -> tuple[float, float] | None:
        """(share, height 0..1 over the water) after the first touch; None once the stone has gone under."""
        for number in range(len(self.shares) - 1):
            begun_s, until_s = self.times_s[number : number + 2]
            if begun_s <= age_s < until_s:
                part = (age_s - begun_s) / (until_s - begun_s)
                here, there = self.shares[number : number + 2]
                return here + (there - here) * part, 4 * part * (1 - part) * (there - here) / self.shares[0]
        return None


@lru_cache(maxsize=32)
def way_of(touches: int) -> Way:
    """The way of a stone that touches the water so often."""
    far = NEAREST + (FURTHEST - NEAREST) * max(touches - FEWEST, 0) / (MOST - FEWEST)
    gaps = [GAP_FADES**number for number in range(touches)]
    shares = tuple(far * sum(gaps[: number + 1]) / sum(gaps) for number in range(touches))
    times = [FLIGHT_S]
    for number in range(1, touches):
        times.append(times[-1] + FIRST_HOP_S * HOP_FADES**number)
    return Way(shares, tuple(times))


def touches_of(rise_pct_mvc_per_s: float, target_pct_mvc: float) -> int:
    """How often a counted stone touches, from how briskly the effort rose."""
    brisk = max(rise_pct_mvc_per_s, 0.0) / max(target_pct_mvc, 1e-6)
    return FEWEST + math.floor((MOST - FEWEST + 0.99) * (1 - math.exp(-brisk / BRISK_PER_S)))


def touches_in(product: Product) -> int:
    """The touches that a print shows."""
    figures = product.figures
    return touches_of(figures.get("rise_pct_mvc_per_s", 0.0), figures.get("target_pct_mvc", 0.0))


def longest(prints: Sequence[Product]) -> int | None:
    """Which of them went furthest; of equals the brisker, then the earlier. None of none."""
    if not prints:
        return None
    return max(range(len(prints)), key=lambda n: (prints[n].figures.get("rise_pct_mvc_per_s", 0.0), -n))


def longest_of_days(prints: Sequence[Product]) -> tuple[Product, ...]:
    """The longest skip of each day, in the order of the days."""
    days: dict[date, list[Product]] = {}
    for product in prints:
        days.setdefault(product.made_on, []).append(product)
    return tuple(made[longest(made) or 0] for made in days.values())
