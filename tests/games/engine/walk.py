"""Who leads a rep engine from phase to phase, tick by tick.

Ticks are an eighth of a second, so that sums are exact and a limit is met to the tick; the average that the judge goes
by is then that of two ticks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from musclewood.games.engine.rep_events import (
    Reading,
    RepEvent,
    RepMade,
    RepMissed,
)
from musclewood.games.engine.reps import RepEngine
from musclewood.profiles.plan.dose import PlannedExercise

STEP_S, START_S = 0.125, 100.0
PLAN = PlannedExercise(
    exercise_id="hold", kind="hold", title="Hold", workshops=("kiln",), channels=(0,), sets=2, reps=2, hold_s=1.0,
    rest_s=1.0,
    set_rest_s=2.0, target_pct_mvc=50.0, tolerance_pct_mvc=12.5, ceiling_pct_mvc=75.0, quiet_pct_mvc=6.25,
)  # fmt: skip


class Walk:
    """An engine fed tick by tick; `told` has every event with the session's time at which it was told."""

    def __init__(self, step_s: float = STEP_S, effort: tuple[float, float] | None = None, **changes: Any) -> None:
        self.engine = RepEngine(replace(PLAN, **changes), step_s, START_S, effort)
        self.told: list[tuple[float, RepEvent]] = []

    def go(self, ticks: int, *levels: float, working: bool | None = None, readable: bool = True) -> list[RepEvent]:
        """So many ticks at these levels; a muscle is at work above a tenth unless `working` says otherwise."""
        now: list[RepEvent] = []
        for _ in range(ticks):
            at_work = tuple(level > 0.1 if working is None else working for level in levels)
            for event in self.engine.step(Reading(levels, at_work, readable)):
                self.told.append((self.engine.now_s, event))
                now.append(event)
        return now

    def rep(self) -> None:
        """From the cue: counted, let go, and quiet until the rest begins."""
        self.go(9, 0.5)
        self.go(2, 0.0)

    @property
    def view(self) -> Any:
        return self.engine.view

    @property
    def reps(self) -> list[Any]:
        return [event.rep for _, event in self.told if isinstance(event, RepMade | RepMissed)]

    @property
    def verdicts(self) -> list[str]:
        return [rep.verdict for rep in self.reps]


def plain(told: Sequence[tuple[float, RepEvent]]) -> list[tuple[float, Any]]:
    """The same with a verdict in the place of a judged rep."""
    judged = (RepMade, RepMissed)
    return [(at_s, event.rep.verdict if isinstance(event, judged) else event) for at_s, event in told]


def resting(**changes: Any) -> Walk:
    """Three eighths of a second into the first rest."""
    walk = Walk(**changes)
    walk.go(1, 0.0)
    walk.rep()
    walk.go(3, 0.0)
    return walk
