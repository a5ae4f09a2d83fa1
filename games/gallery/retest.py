"""A test that the order repeats at home, in its states. Nothing here is real."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import cast

from musclewood.games.examining.steps import Doing, Shown, Subject
from musclewood.games.running.retesting import Retesting
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.games.screens.session.questions import PainPage
from musclewood.games.screens.setup.retest import HaltPage, MeasuringPage, PlacePage, RetestOverPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.profiles.journal.records import Ending
from musclewood.profiles.orders.tables import Retest
from musclewood.profiles.plan.retest import RetestDue

Make = Callable[[Surroundings], Page]
LEFT = Subject("vastus-medialis-left", "Vastus medialis", "left", 0)
RIGHT = Subject("vastus-medialis-left-other", "Vastus medialis", "right", 0)
DUE = RetestDue(Retest(test="both-sides", every_weeks=4, first=date(2026, 11, 24)))


@dataclass
class _StillExam:
    measured: list[object] = field(default_factory=list)
    ended: str | None = None


@dataclass
class StillRetest:
    """Stands in for a test that has been stopped in time."""

    shown: Shown
    exam: _StillExam = field(default_factory=_StillExam)
    ending: Ending | None = None


def retest_states(a_day: Callable[[], Day]) -> dict[str, Make]:
    """How to make each state that is worth seeing."""

    def place(*subjects: Subject, moved: bool = False) -> Make:
        still = StillRetest(Shown("place", subjects), _StillExam([1] if moved else []))
        return lambda around: PlacePage(around, a_day(), cast(Retesting, still))

    def measure(doing: Doing, left_s: float, amplitude_uv: float, longest_s: float = 60.0) -> Make:
        shown = Shown(doing, (LEFT,), left_s, 2, 3, amplitude_uv=amplitude_uv, best_uv=210.0)
        still = StillRetest(shown)

        def make(around: Surroundings) -> Page:
            page = MeasuringPage(around, cast(Retesting, still))
            page.update(0.1)
            page._longest_s = longest_s
            return page

        return make

    def over(ending: Ending, *, failed: bool = False) -> Make:
        still = StillRetest(Shown("done"), _StillExam(ended="failed" if failed else None), ending)
        return lambda around: RetestOverPage(around, cast(Retesting, still))

    return {
        "today-retest": lambda around: TodayPage(around, replace(a_day(), retest=DUE)),
        "retest-place": place(RIGHT),
        "retest-move": place(LEFT, moved=True),
        "retest-both": place(LEFT, RIGHT),
        "retest-quiet": measure("quiet", 3.0, 4.0, 6.0),
        "retest-squeeze": measure("squeeze", 3.2, 180.0),
        "retest-rest": measure("rest", 42.0, 4.0),
        "retest-pain": lambda around: PainPage(around, lambda value: None),
        "retest-halt": HaltPage,
        "retest-complete": over("complete"),
        "retest-stopped": over("stopped"),
        "retest-failed": over("stopped", failed=True),
        "retest-pained": over("pain"),
        "retest-sensor": over("sensor"),
    }
