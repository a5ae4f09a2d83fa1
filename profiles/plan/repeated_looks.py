"""Bounds for a question that is asked again after every few sessions, and must hold however often that is.

Two statistics of ranks are followed. While nothing changes, their steps are independent and uniform, whatever the
scatter, its shape or the dates; so the law of each is known exactly and nothing has to be estimated. What may be
claimed wrongly in all looks together is spent a little at each look (Lan and DeMets 1983, value from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

# Claimed wrongly at some look, in both directions together, for ever.
EVER_WRONG = 0.05
# Looks are taken after every third session: fewer looks leave more for each (our choice, after a trial of some 25).
LOOK_EVERY = 3
# The bounds are widened by this factor, because real days are a little alike (our choice).
GUARD = 1.10
# Sessions that a course has when nobody says (our choice: six weeks of three).
PLANNED = 18

Law = NDArray[np.float64]


def spent_by(number: int, planned: int, power: int) -> float:
    """How much of EVER_WRONG may be used up after `number` sessions; never all of it, however many follow."""
    early = min(1.0, (number / planned) ** power)
    return EVER_WRONG * (0.9 * early + 0.1 * max(0.0, 1.0 - planned / number))


def trend_bounds(ranks: Sequence[int], planned: int = PLANNED) -> dict[int, int]:
    """From which |S| on a trend is claimed, by number of sessions; guarded, so always a little stricter than exact.

    S is Kendall's statistic: of all pairs of sessions, how many rose less how many fell. `ranks` says for each session
    the how-manieth of its series it is (1, 2, 3 ... with one sensor); only pairs within a series count. A session
    moves S by 1-k, 3-k ... k-1, each as likely, where k is its rank.
    """
    if not ranks:
        return {}
    further = (ranks[-1] + number for number in range(1, 1 + -len(ranks) % _AHEAD))
    found = _bounds(tuple((rank - 1, 2) for rank in (*ranks, *further)), planned, power=3, guard=GUARD)
    return {number: bound for number, bound in found.items() if number <= len(ranks)}


def side_bounds(number: int, planned: int = PLANNED) -> dict[int, int]:
    """From which |U| on one side is called above or below a criterion, by number of sessions.

    U is the sum of signed ranks, each difference ranked by its size among those up to its own session: a session
    moves U by -k ... -1 or 1 ... k, each as likely.
    """
    steps = tuple((rank, 1) for rank in range(1, 1 + number + -number % _AHEAD))
    found = _bounds(steps, planned, power=2, guard=1.0)
    return {size: bound for size, bound in found.items() if size <= number}


_AHEAD = 60  # bounds never depend on what comes later, so they are worked out once for many lengths


@lru_cache(maxsize=256)
def _bounds(steps: tuple[tuple[int, int], ...], planned: int, power: int, guard: float) -> dict[int, int]:
    """`steps` are how far each session moves the statistic at most, and in strides of what size."""
    law = np.ones(1)  # of all values from -reach to reach
    spent, most, found = 0.0, 0, {}
    for number, (step, stride) in enumerate(steps, start=1):
        law = _moved(law, step, stride)
        most += step
        if number % LOOK_EVERY:
            continue
        reach = len(law) // 2
        tail = np.cumsum((law[reach:] + law[reach::-1])[::-1])[::-1]
        within = np.flatnonzero(tail <= spent_by(number, planned, power) - spent)
        exact = next((int(size) for size in within if (most - size) % stride == 0), None)
        if exact is None:
            continue
        spent += float(tail[exact])
        law = law[reach - exact + 1 : reach + exact]
        wide = int(np.ceil(exact * guard - 1e-9))
        found[number] = wide + (most - wide) % stride  # rounded up to what the statistic can be
    return found


def _moved(law: Law, step: int, stride: int) -> Law:
    """The law after a session that moves it by -step ... step in strides; with strides of 1 never by 0."""
    sums = np.concatenate([law, np.zeros(2 * step)])
    for lattice in range(stride):
        sums[lattice::stride] = np.cumsum(sums[lattice::stride])
    moved, ways = sums.copy(), 2 * step // stride + 1
    moved[2 * step + stride :] -= sums[: max(0, len(sums) - 2 * step - stride)]
    if stride == 1:
        moved[step : step + len(law)] -= law
        ways -= 1
    return np.asarray(np.maximum(moved, 0.0) / ways)
