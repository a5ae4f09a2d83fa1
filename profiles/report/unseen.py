"""What succeeds with and without seeing the effort: two figures with their intervals, and what their difference says.

Intervals are Wilson's (1927, J Am Stat Assoc 22:209); the difference has Newcombe's (1998, Stat Med 17:873, method 10).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.plan.level import Z95
from musclewood.profiles.report.words import Words

LEAST_UNSEEN = 5  # fewer say next to nothing; our choice
# A hand that knows its force misses a little more often without seeing, too. So much less, beyond chance, is more than
# that: our choice, from simulated learners who do (tests/bench/leaning.py).
MARGIN = 0.15


@dataclass(frozen=True)
class Share:
    """Counted of tried, and the 95 % interval of the share, all as fractions."""

    made: int
    tried: int
    low: float
    high: float

    @property
    def value(self) -> float:
        return self.made / self.tried


@dataclass(frozen=True)
class Seeing:
    """The two figures, and the 95 % interval of seen less unseen."""

    seen: Share
    unseen: Share
    low: float
    high: float

    @property
    def leans(self) -> bool:
        """Whether clearly less succeeds without seeing, beyond chance: they follow the picture, not yet the muscle."""
        return self.low > MARGIN

    @property
    def enough(self) -> bool:
        return min(self.seen.tried, self.unseen.tried) >= LEAST_UNSEEN


def seeing(reps: Iterable[RepRecord]) -> Seeing | None:
    """Both figures of the sessions' readable attempts; None where one of them has none."""
    judged = [rep for rep in reps if rep.verdict != "unreadable"]
    seen, unseen = (share_of([rep for rep in judged if rep.unseen is flag]) for flag in (False, True))
    if seen is None or unseen is None:
        return None
    apart = seen.value - unseen.value
    low = apart - math.hypot(seen.value - seen.low, unseen.high - unseen.value)
    high = apart + math.hypot(seen.high - seen.value, unseen.value - unseen.low)
    return Seeing(seen, unseen, low, high)


def share_of(reps: list[RepRecord]) -> Share | None:
    """With Wilson's interval. By hand, because loading a library of tests for it takes longer
    than all of the report."""
    if not reps:
        return None
    made, tried = sum(rep.verdict == "counted" for rep in reps), len(reps)
    share, wide = made / tried, Z95**2 / tried
    middle, half = share + wide / 2, math.sqrt(wide * (share * (1 - share) + wide / 4))
    return Share(made, tried, max(0.0, (middle - half) / (1 + wide)), min(1.0, (middle + half) / (1 + wide)))


def seeing_sentence(found: Seeing | None, words: Words) -> str:
    """Both figures with their intervals, and what they say; '' where nothing was done without seeing."""
    if found is None:
        return ""
    figures: dict[str, str] = {}
    for name, one in (("seen", found.seen), ("unseen", found.unseen)):
        percents = {"": one.value, "_low": one.low, "_high": one.high}
        figures |= {f"{name}{ending}": words.number(100 * value) for ending, value in percents.items()}
        figures[f"{name}_n"] = str(one.tried)
    meaning = "few" if not found.enough else "leans" if found.leans else "alike"
    margin = words.number(100 * MARGIN)
    return f"{words('efforts.seeing', **figures)} {words(f'efforts.seeing_{meaning}', margin=margin)}"
