"""The involved side beside the other one, as the report tells it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.measured import both_sides, pairs_of_sides, planned_looks
from musclewood.profiles.plan.side_ratio import SideRatio, side_ratio
from musclewood.profiles.report.repeated import Tested, both_sides_of


@dataclass(frozen=True)
class Sides:
    """A muscle by name, and how its involved side compares."""

    name: str
    ratio: SideRatio


def compare(
    orders: Sequence[Prescription], sessions: Sequence[LedgerSession], tests: Sequence[Tested] = ()
) -> list[Sides]:
    """Every involved muscle that was measured on both sides: in one session, or in one test at
    the clinic or at home."""
    newest, planned = max(orders, key=lambda order: order.revision), planned_looks(orders)
    pairs = {involved.name: both_sides(involved.id, other.id, sessions) for involved, other in pairs_of_sides(newest)}
    found = []
    for name in dict.fromkeys(muscle.name for muscle in newest.muscles if muscle.role == "involved"):
        measured = sorted([*pairs.get(name, ()), *both_sides_of(tests, name)], key=lambda one: one.at)
        if (ratio := side_ratio(measured, planned)) is not None:
            found.append(Sides(name, ratio))
    return found
