"""How much of the order was done, week by week. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.journal.ledger import Ledger
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.adherence import adherence

WEEKS = 8  # as many as are read at a glance; the report has all of them


def kept_by_week(orders: Sequence[Prescription], ledger: Ledger, until: date, weeks: int = WEEKS) -> list[float | None]:
    """Reps done in % of those ordered, capped by session, for the last weeks that end on `until`; None: none were due.

    Weeks before the first order are left out.
    """
    if not orders:
        return []
    zone = zone_of(orders[-1].timezone)
    first_order = min(order.issued for order in orders)
    days = max(1, (until - first_order).days + 1)
    number = min(weeks, -(-days // 7))
    found = []
    for back in range(number - 1, -1, -1):
        last = until - timedelta(days=7 * back)
        first = max(first_order, last - timedelta(days=6))
        inside = [session for session in ledger.counting() if first <= session.day(zone) <= last]
        found.append(adherence(orders, inside, first, last, zone).reps_capped_pct)
    return found
