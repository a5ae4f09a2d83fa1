"""How strong each muscle is lately, and whether it changed: the facts behind sentence and figure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import Muscle
from musclewood.profiles.plan.measured import measured_of, planned_looks
from musclewood.profiles.plan.recent_mvc import Change, RecentMvc, change, follow, usable

DAYS_TO_SCATTER = 3


@dataclass(frozen=True)
class MuscleReport:
    """`track` has one entry a day; `number` of days; the estimate is that of the latest sensor, on `lately` of them."""

    muscle: Muscle
    track: tuple[RecentMvc, ...]
    change: Change | None
    lately: int

    @property
    def scatter_known(self) -> bool:
        """Whether these days, and not only what is usual, say how far they scatter. From three on; our choice."""
        return self.lately >= DAYS_TO_SCATTER

    @property
    def latest(self) -> RecentMvc:
        return self.track[-1]

    @property
    def number(self) -> int:
        return len(self.track)

    @property
    def real_since(self) -> date | None:
        return self.change.since if self.change else None

    @property
    def scatter_pct(self) -> float:
        """How far this patient's days differ from each other by the pads' place and the day's form (CV in %)."""
        return 100 * math.sqrt(math.expm1(self.latest.scatter**2))


def muscle_reports(orders: Sequence[Prescription], sessions: Sequence[LedgerSession]) -> list[MuscleReport]:
    """Every muscle of the newest order that was measured. `orders` are all that are known."""
    newest, planned = max(orders, key=lambda order: order.revision), planned_looks(orders)
    found = []
    for muscle in newest.muscles:
        measured = measured_of(muscle.id, sessions)
        if track := follow(measured):
            days = usable(measured)
            lately = sum(one.sensor == days[-1].sensor for one in days)
            found.append(MuscleReport(muscle, tuple(track), change(measured, planned), lately))
    return found
