"""Whether a test that the order repeats at home is due today. Pure: the order, the past and the moment in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from musclewood.profiles.journal.history import History, zone_of
from musclewood.profiles.journal.records import RetestRecord
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.retests import due_since
from musclewood.profiles.orders.tables import Retest
from musclewood.profiles.plan.reasons import Reason
from musclewood.profiles.plan.safety import allowance
from musclewood.profiles.plan.trusted_time import as_lived

# A test that was stopped may be begun once more on the same day and no more: it is maximal. Our choice.
MOST_A_DAY = 2


@dataclass(frozen=True)
class RetestDue:
    """The test to be done before the exercises of today."""

    retest: Retest


def retest_due(order: Prescription, history: History, now: datetime) -> RetestDue | None:
    """None where none is ordered, where the last one is done, or where it must not be done now.

    Everything that refuses exercises refuses it, but for a week that has its sessions and for a rest day; and never
    after exercises on the same day, since a tired muscle shows less. It stays due until it is done.
    """
    if order.retest is None:
        return None
    zone, lived = zone_of(order.timezone), as_lived(history, now)
    today = now.astimezone(zone).date()
    # A clock that was set forward makes nothing due.
    known = today if lived.unmoved is None else min(today, lived.unmoved.astimezone(zone).date())
    since = due_since(order.retest, known)
    if since is None or today < order.issued or (order.expires and today > order.expires):
        return None
    if allowance(order, lived, today).refusal not in (None, Reason.WEEK_DONE):
        return None
    if any(session.attempts for session in lived.on(today, zone)):
        return None
    days = {session.session_id: session.day(zone) for session in lived.history.sessions}
    records = [(number, one) for number, one in history.tests if one.test == order.retest.test and number in days]
    begun = sum(not one.trials_uv and days[number] == today for number, one in records)
    done = _done([(number, one) for number, one in records if days[number] >= since], order.retest)
    return None if done or begun >= MOST_A_DAY else RetestDue(order.retest)


def _done(records: Sequence[tuple[int, RetestRecord]], retest: Retest) -> bool:
    """Whether one session measured all that the test asks for."""
    sides: dict[int, set[str]] = {}
    for session_id, record in records:
        if record.trials_uv:
            sides.setdefault(session_id, set()).add(record.side)
    return any(len(found) == (2 if retest.test == "both-sides" else 1) for found in sides.values())
