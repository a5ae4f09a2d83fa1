"""The involved side beside the other one, as the report tells it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.measured import both_sides, pairs_of_sides, planned_looks
from musclewood.profiles.plan.side_ratio import SideRatio, side_ratio


@dataclass(frozen=True)
class Sides:
    """A muscle by name, and how its involved side compares."""

    name: str
    ratio: SideRatio


def compare(orders: Sequence[Prescription], sessions: Sequence[LedgerSession]) -> list[Sides]:
    """Every muscle that is ordered on both sides and was measured on both in one session."""
    newest, planned = max(orders, key=lambda order: order.revision), planned_looks(orders)
    found = []
    for involved, other in pairs_of_sides(newest):
        ratio = side_ratio(both_sides(involved.id, other.id, sessions), planned)
        if ratio is not None:
            found.append(Sides(involved.name, ratio))
    return found
