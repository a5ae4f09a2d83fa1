"""What the village asks for, week by week, and what became of it. Pure: computed from what stands on the shelf.

Every day with something made moves the village on by one step, at most three steps in seven days, so that plans of
three and of seven days a week have the same twelve weeks before them. Nothing is ever taken back, nothing is counted in
a row, and nothing is left to chance: a day off leaves everything as it stands.
"""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from musclewood.games.engine.shelf import Product

if TYPE_CHECKING:
    from musclewood.games.engine.kinds import Progress

# One wish for each week, in the order in which they are asked; each is made in STEPS steps.
WISHES = (
    "lanterns", "table", "boat", "signpost", "flowers", "hives", "swing", "bunting", "well", "nests", "weathercocks",
    "ducks",
)  # fmt: skip
STEPS, WEEK_DAYS = 3, 7
EARLIER = 3  # days that a day is compared with at the least
MOST = 2 / 3  # of them, that it must surpass to be called better than most; our choice
TABLE = 3  # things on the feast table


@dataclass(frozen=True)
class Standing:
    """What stands in the village. `steps` were made in all; `fresh` is the step that the last day added, if it did."""

    steps: int = 0
    fresh: bool = False

    @property
    def built(self) -> tuple[tuple[int, int], ...]:
        """(wish, step) of everything that stands, both from 1, in the order in which it came."""
        return tuple(
            (number // STEPS + 1, number % STEPS + 1) for number in range(min(self.steps, STEPS * len(WISHES)))
        )

    @property
    def asked(self) -> str | None:
        """What the village wishes for now; None when all is there."""
        wish = self.steps // STEPS
        return WISHES[wish] if wish < len(WISHES) else None

    @property
    def begun(self) -> bool:
        """Whether a part of what is asked stands already."""
        return self.steps % STEPS > 0

    @property
    def letter(self) -> str | None:
        """Key of the sentence that people answer with to the last day's work: 'WISH.begun',
        'WISH.half', 'WISH.thanks'."""
        if not self.fresh or not 0 < self.steps <= STEPS * len(WISHES):
            return None
        wish, step = divmod(self.steps - 1, STEPS)
        return f"{WISHES[wish]}.{('begun', 'half', 'thanks')[step]}"


def standing(shelf: Sequence[Product]) -> Standing:
    """The village as the days with something on the shelf have made it."""
    days = sorted({product.made_on for product in shelf})
    if not days:
        return Standing()
    in_week: Counter[int] = Counter()
    fresh = False
    for day in days:
        week = (day - days[0]).days // WEEK_DAYS
        fresh = in_week[week] < STEPS
        in_week[week] += fresh
    return Standing(in_week.total(), fresh)


def on_the_table(shelf: Sequence[Product]) -> tuple[Product, ...]:
    """What is used at the feast table: the last thing of each of the latest days."""
    last: dict[date, Product] = {product.made_on: product for product in shelf}
    return tuple(last[day] for day in sorted(last)[-TABLE:])


class Reckoning:
    """What a shelf that only grows comes to, reckoned anew when something was added: pages ask in every frame, and a
    year's shelf holds thousands of things."""

    def __init__(self) -> None:
        self._count = -1
        self._standing, self._things = Standing(), tuple[Product, ...]()

    def of(self, shelf: Sequence[Product]) -> tuple[Standing, tuple[Product, ...]]:
        """How the village stands, and what is on its table."""
        if len(shelf) != self._count:
            self._count, self._standing, self._things = len(shelf), standing(shelf), on_the_table(shelf)
        return self._standing, self._things


def noticed(shelf: Sequence[Product], kinds: Mapping[str, str]) -> tuple[str, Progress] | None:
    """What a maker may truthfully say of the last day: (workshop, in what it surpassed most days before).

    kinds: of exercise, by workshop. A day is the median of its things; at least EARLIER days before it are needed. It
    says something about that day alone, so it is no claim that the muscle has changed.
    """
    from musclewood.games.engine.kinds import progress_of  # brings the judges; Today, which asks for wishes, needs none

    if not shelf:
        return None
    today = max(product.made_on for product in shelf)
    for workshop in sorted({product.workshop for product in shelf if product.made_on == today}):
        progress = progress_of(kinds.get(workshop, ""))
        days: dict[date, list[float]] = {}
        for product in shelf:
            if product.workshop == workshop:
                days.setdefault(product.made_on, []).append(MEASURES[progress](product))
        medians = {day: statistics.median(values) for day, values in days.items()}
        now = medians.pop(today)
        if len(medians) >= EARLIER and sum(now > before for before in medians.values()) >= MOST * len(medians):
            return workshop, progress
    return None


MEASURES: dict[Progress, Callable[[Product], float]] = {
    "steadier": lambda product: product.figures.get("steadiness", 0.0),
    "brisker": lambda product: (
        product.figures.get("rise_pct_mvc_per_s", 0.0) / max(product.figures.get("target_pct_mvc", 0.0), 1.0)
    ),
    "quieter": lambda product: -product.figures.get("mean_pct_mvc", 0.0),
}  # fmt: skip
