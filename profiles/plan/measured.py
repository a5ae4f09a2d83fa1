"""What was measured of a muscle, taken from sessions, and how often the first order planned to measure it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import MAXIMUM
from musclewood.profiles.orders.tables import DAYS, Muscle
from musclewood.profiles.plan.recent_mvc import Measured
from musclewood.profiles.plan.side_ratio import BothSides

# Fewer planned looks than this could never find anything, and who plans for longer wants to know earlier: eight weeks
# of three days (both our choice).
FEWEST_PLANNED, MOST_PLANNED = 6, 24


def measured_of(muscle: str, sessions: Sequence[LedgerSession]) -> list[Measured]:
    """Every calibration of a muscle against the reference in use, the oldest first.

    What was measured against another reference is not comparable (Besomi 2020), and a rest that was measured again is
    no calibration.
    """
    now = latest_reference(sessions)
    return [
        Measured(session.started, record.mvc_uv, record.cv, session.start.sensor)
        for session in sessions
        for record in session.calibrations
        if record.muscle == muscle and record.trials_uv and (record.reference or MAXIMUM) == now
    ]


def latest_reference(sessions: Sequence[LedgerSession]) -> str:
    """The name of the reference that was measured last; a maximum where none was."""
    return next((one.reference or MAXIMUM for each in reversed(sessions) for one in each.calibrations), MAXIMUM)


def both_sides(involved: str, uninvolved: str, sessions: Sequence[LedgerSession]) -> list[BothSides]:
    """Sessions that measured a muscle on both sides; of several calibrations in one, the last."""
    pairs = []
    for session in sessions:
        found = {one.muscle: one.mvc_uv for one in session.calibrations if one.trials_uv}
        if involved in found and uninvolved in found:
            pairs.append(BothSides(session.started, found[involved], found[uninvolved]))
    return pairs


def pairs_of_sides(order: Prescription) -> list[tuple[Muscle, Muscle]]:
    """Each involved muscle that is ordered on the uninvolved side too, with that."""
    return [
        (one, other)
        for one in order.muscles
        for other in order.muscles
        if (one.role, other.role) == ("involved", "uninvolved") and one.name == other.name and one.side != other.side
    ]


def planned_looks(orders: Sequence[Prescription]) -> int:
    """On how many days the first of the orders planned to measure until its review. Later ones never change it."""
    first = min(orders, key=lambda order: (order.revision, order.issued))
    days = (first.issued + timedelta(days=number) for number in range((first.review - first.issued).days))
    planned = [day for day in days if DAYS[day.weekday()] in first.days]
    if first.calibration.every == "week":
        planned = list({day.isocalendar()[:2]: day for day in planned}.values())
    return min(MOST_PLANNED, max(FEWEST_PLANNED, len(planned)))
