"""What the steps found, as the results that the clinic keeps; made anew when a trial is set aside. Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

import numpy as np
from musclewood.games.examining.steps import Subject
from musclewood.profiles.plan.comparing import SideComparison, compare_sides
from musclewood.profiles.visits.entries import (
    MuscleTrials,
    OppositeTest,
    Purpose,
    ReferenceTest,
    Result,
    SidesTest,
)

Way = Literal["two channels", "moved sensor", "both at once"]
ROUNDED_TO = 5.0  # a ceiling is proposed in steps that somebody can remember; our choice


def reference_test(name: str, found: MuscleTrials) -> ReferenceTest | None:
    """The mean of the trials that count, with the 95 % interval of their scatter; None without any."""
    values = np.array(found.used_uv)
    if not len(values):
        return None
    mean, half = float(values.mean()), math.inf
    if len(values) > 1:
        spread = float(np.std(np.log(values), ddof=1))
        from scipy.stats import t  # takes its time; whoever only plays needs no interval

        half = float(t.ppf(0.975, len(values) - 1)) * spread / math.sqrt(len(values))
    low, high = (mean * math.exp(-half), mean * math.exp(half)) if math.isfinite(half) else (mean / 2, mean * 2)
    return ReferenceTest(
        reference=name, found=found, reference_uv=mean, low_uv=max(0.01, low), high_uv=min(50_000.0, high)
    )


def sides_test(
    involved: MuscleTrials,
    uninvolved: MuscleTrials,
    *,
    first: Literal["involved", "uninvolved"],
    way: Way,
    purpose: Purpose = "visit",
) -> SidesTest | None:
    """Both sides compared; None where a side has fewer than two trials that count.

    There is no pass mark. It says that the involved side is weaker or stronger only when the whole interval says so.
    """
    found = compared(involved, uninvolved)
    if found is None:
        return None
    low, high = 100.0 - found.high, 100.0 - found.low
    return SidesTest(
        involved=involved,
        uninvolved=uninvolved,
        first=first,
        way=way,
        purpose=purpose,
        deficit_pct=found.deficit,
        low_pct=low,
        high_pct=high,
        says="weaker" if low > 0 else "stronger" if high < 0 else "left open",
    )


def compared(involved: MuscleTrials, other: MuscleTrials) -> SideComparison | None:
    """Also the involved side now against a baseline from before an operation; None for fewer than two trials a side."""
    if min(len(involved.used_uv), len(other.used_uv)) < 2:
        return None
    return compare_sides(involved.used_uv, other.used_uv)


def opposite_test(
    agonist: Subject, opposite: Subject, target_pct: float, watched: Sequence[tuple[float, float]]
) -> OppositeTest | None:
    """From (mean of the opposite in % of its reference, index in %) of each hold; None without any.

    The ceiling proposed lies two standard deviations of the holds above their mean, rounded up: what this person does
    anyway should stay below it nearly always, and more than that is noticed. Our choice.
    """
    if not watched:
        return None
    levels = np.array([level for level, _ in watched])
    spread = float(np.std(levels, ddof=1)) if len(levels) > 1 else float(levels.mean()) / 2
    ceiling = ROUNDED_TO * math.ceil((float(levels.mean()) + 2 * spread) / ROUNDED_TO)
    return OppositeTest(
        agonist=agonist.muscle,
        opposite=opposite.muscle,
        target_pct_mvc=target_pct,
        opposite_pct_mvc=tuple(round(float(level), 2) for level in levels),
        index_pct=min(100.0, float(np.mean([index for _, index in watched]))),
        ceiling_pct_mvc=min(100.0, max(ROUNDED_TO, ceiling)),
    )


def again(result: Result) -> Result | None:
    """Figures made anew from the trials that count, after some were set aside in the book."""
    if isinstance(result, SidesTest):
        return sides_test(
            result.involved, result.uninvolved, first=result.first, way=result.way, purpose=result.purpose
        )
    return reference_test(result.reference, result.found) if isinstance(result, ReferenceTest) else result
