"""What is claimed of a change, and what the intervals hold, beside the method of before: stable muscles, muscles that
grow.

Run with `python tests/bench/change_claims.py [PEOPLE [SEED]]`. Three sessions a week; whoever is asked looks after
every one. The targets: a false claim at any of 18 and of 60 looks in at most 5 % (10 % where days are alike or pads lie
badly one day in ten); +100 % at CV 9 % found by session 18 in 99 %, +60 % at CV 18 % in 65 %; intervals that hold the
truth in 93 to 97 %.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
from musclewood.profiles.plan.recent_mvc import Measured, change, follow
from musclewood.profiles.plan.side_ratio import BothSides, side_ratio
from numpy.typing import NDArray

Array = NDArray[np.float64]
CVS = (0.05, 0.09, 0.18, 0.25, 0.36, 0.50)
START = datetime(2026, 1, 5, 17, tzinfo=UTC)
GAP = timedelta(days=7 / 3)
FIRST_UV = 150.0


def scatter(cv: float) -> float:
    return math.sqrt(math.log1p(cv * cv))


def plain(dice: np.random.Generator, number: int, cv: float) -> Array:
    return dice.normal(0, scatter(cv), number)


def alike(dice: np.random.Generator, number: int, cv: float, correlation: float = 0.3) -> Array:
    """Days that resemble the day before."""
    values = plain(dice, number, cv)
    for place in range(1, number):
        values[place] = correlation * values[place - 1] + math.sqrt(1 - correlation**2) * values[place]
    return values


def bad_pads(dice: np.random.Generator, number: int, cv: float) -> Array:
    """One day in ten the pads lie somewhere else: three times the scatter."""
    wide = np.where(dice.random(number) < 0.1, 3.0, 1.0)
    return plain(dice, number, cv) * wide


def measured(logs: Array) -> list[Measured]:
    return [Measured(START + number * GAP, FIRST_UV * math.exp(value)) for number, value in enumerate(logs)]


def claims_now(logs: Array) -> bool:
    """Whether something was claimed at any look; claims stay, so the last look knows."""
    seen = change(measured(logs))
    return seen is not None and seen.real


def claims_before(logs: Array) -> bool:
    """The method of before: the first against the latest three, a scatter of 18 % taken as known, at every look."""
    variance = math.log1p(0.18**2) + math.log1p(0.05**2)
    for number in range(2, len(logs) + 1):
        ends = min(3, number // 2)
        difference = logs[number - ends : number].mean() - logs[:ends].mean()
        if abs(difference) > 1.96 * math.sqrt(2 * variance / ends):
            return True
    return False


def dice_of(number: int) -> np.random.Generator:
    return np.random.default_rng((number, *map(int, sys.argv[2:3])))


def share(people: int, make: Callable[[np.random.Generator], Array], claims: Callable[[Array], bool]) -> float:
    dice = dice_of(18)
    return 100 * sum(claims(make(dice)) for _ in range(people)) / people


def false_claims(people: int) -> None:
    print(f"false claims in % of {people} stable muscles, at any of 18 / 60 looks (before -> now)")
    kinds: dict[str, Callable[[np.random.Generator, int, float], Array]] = {
        "stable": plain, "days alike (.3)": alike, "bad pads 1 in 10": bad_pads,
    }  # fmt: skip
    for name, noise in kinds.items():
        for cv in CVS:
            cells = []
            for looks in (18, 60):
                make = lambda dice, looks=looks, cv=cv, noise=noise: noise(dice, looks, cv)
                few = max(100, people // 10)  # the method of before is far from any bound; fewer will do
                cells.append(f"{share(few, make, claims_before):5.1f} -> {share(people, make, claims_now):4.1f}")
            print(f"  {name:17s} CV {cv:4.0%}: {' / '.join(cells)}")


def found(people: int) -> None:
    print("found by session 18, in % (before, which also finds what is not there -> now)")
    for cv in (0.09, 0.18, 0.25, 0.36):
        cells = []
        for gain in (0.3, 0.6, 1.0):
            course = math.log1p(gain) * np.arange(18) / 17
            make = lambda dice, cv=cv, course=course: course + plain(dice, 18, cv)
            few = max(100, people // 10)
            cells.append(
                f"+{gain:.0%} {share(few, make, claims_before):3.0f} -> {share(people, make, claims_now):3.0f}"
            )
        print(f"  CV {cv:4.0%}: {', '.join(cells)}")


def courses(dice: np.random.Generator, number: int) -> Array:
    """How muscles move: not at all, by 30 to 100 %, fast and then slower, or here and there."""
    kind, time = dice.integers(5), np.arange(number) / 17
    if kind == 4:
        return np.cumsum(np.concatenate([[0.0], dice.normal(0, 0.03, number - 1)]))
    if kind == 3:
        return math.log1p(0.6) * (1 - np.exp(-3 * time)) / (1 - math.exp(-3))
    return math.log1p((0.0, 0.45, 1.0)[kind]) * time


def cover(people: int) -> None:
    print("intervals that hold the truth, in % (scatter of each person drawn from 9 to 36 %, then by CV)")
    for name, draw in [("drawn", None), *((f"CV {cv:.0%}", cv) for cv in CVS)]:
        dice = dice_of(95)
        held: dict[tuple[str, int], int] = {}
        for _ in range(people):
            cv = draw or math.exp(dice.uniform(math.log(0.09), math.log(0.36)))
            true = courses(dice, 18)
            one, other = true + plain(dice, 18, cv), plain(dice, 18, cv)
            track = follow(measured(one))
            for number in (1, 3, 6, 12, 18):
                now = FIRST_UV * math.exp(true[number - 1])
                inside = track[number - 1].low_uv <= now <= track[number - 1].high_uv
                held["maximum", number] = held.get(("maximum", number), 0) + inside
                pairs = [
                    BothSides(START + place * GAP, math.exp(one[place]), math.exp(other[place]))
                    for place in range(number)
                ]
                sides = side_ratio(pairs)
                assert sides is not None
                inside = sides.low <= 100 * math.exp(true[number - 1]) <= sides.high
                held["sides", number] = held.get(("sides", number), 0) + inside
            seen = change(measured(one))
            assert seen is not None and seen.low_percent is not None and seen.high_percent is not None
            inside = seen.low_percent <= 100 * math.expm1(true[-1] - true[0]) <= seen.high_percent
            held["change", 18] = held.get(("change", 18), 0) + inside
        for what in ("maximum", "sides", "change"):
            cells = [f"{number}: {100 * n / people:5.1f}" for (key, number), n in held.items() if key == what]
            print(f"  {name:8s} {what:8s} after {', '.join(cells)}")


def sides_settled(people: int) -> None:
    print("90 % between sides called settled by session 18, in % (at a true 90 % each one is false)")
    for true in (50, 70, 80, 90, 100):
        cells = []
        for cv in (0.09, 0.18, 0.25, 0.36):
            dice, settled = dice_of(90), 0
            for _ in range(people):
                logs = math.log(true / 100) + plain(dice, 18, cv) - plain(dice, 18, cv)
                seen = side_ratio([BothSides(START + n * GAP, math.exp(value), 1.0) for n, value in enumerate(logs)])
                settled += seen is not None and seen.settled is not None
            cells.append(f"CV {cv:.0%} {100 * settled / people:3.0f}")
        print(f"  true {true:3d} %: {', '.join(cells)}")


def main() -> None:
    people = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    false_claims(people)
    found(people)
    cover(max(100, people // 2))
    sides_settled(max(100, people // 4))


if __name__ == "__main__":
    main()
