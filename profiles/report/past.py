"""What a report is made from: everything that is known, up to the last day on which anything can be known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from functools import cached_property

from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.journal.ledger import Ledger, LedgerSession
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.orders.exercises import AnyExercise
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.adherence import Adherence, adherence, last_known, lately
from musclewood.profiles.report.days import Missed, missed
from musclewood.profiles.report.muscles import MuscleReport, muscle_reports
from musclewood.profiles.report.repeated import Tested, tested
from musclewood.profiles.report.sides import Sides, compare
from musclewood.profiles.visits.entries import Entry

LONGEST_DAYS = 366


@dataclass(frozen=True)
class Past:
    """`orders` are all that are known, the newest last; `until` is when the record ends, `made_at` when the page is
    made."""

    ledger: Ledger
    orders: tuple[Prescription, ...]
    made_at: datetime
    until: datetime
    demonstration: bool = False
    visits: tuple[Entry, ...] = ()  # what the clinic wrote down; nothing on the patient's own computer

    @property
    def order(self) -> Prescription:
        return self.orders[-1]

    @cached_property
    def zone(self) -> tzinfo | None:
        return zone_of(self.order.timezone)

    @cached_property
    def today(self) -> date:
        return self.made_at.astimezone(self.zone).date()

    @cached_property
    def sessions(self) -> list[LedgerSession]:
        """Those that count."""
        return self.ledger.counting(practice_too=self.demonstration)

    @property
    def until_day(self) -> date:
        return self.until.astimezone(self.zone).date()

    @cached_property
    def last_day(self) -> date:
        """The last day of which something is known; what came after is not seen, which is not the same as not done."""
        return last_known(self.sessions, self.until_day, self.zone)

    @cached_property
    def done(self) -> Adherence:
        """From the first order, or an earlier session, to the last day that is known."""
        days = [session.day(self.zone) for session in self.sessions]
        first, last = min([order.issued for order in self.orders] + days), max([self.last_day, *days])
        first = max(first, date.fromordinal(last.toordinal() - LONGEST_DAYS + 1))
        return adherence(self.orders, self.sessions, first, last, self.zone)

    @cached_property
    def lately(self) -> Adherence | None:
        return lately(self.orders, self.sessions, self.until_day, self.zone)

    @cached_property
    def missed(self) -> list[Missed]:
        return missed(self.done.days, self.ledger.counting(practice_too=True), self.zone)

    @property
    def missed_days(self) -> int:
        return sum(
            1 for day in self.done.days if not day.rest_day and any(m.first <= day.day <= m.last for m in self.missed)
        )

    @cached_property
    def muscles(self) -> list[MuscleReport]:
        return muscle_reports(self.orders, self.sessions)

    @cached_property
    def sides(self) -> list[Sides]:
        return compare(self.orders, self.sessions, self.tests)

    @cached_property
    def tests(self) -> list[Tested]:
        """Maximal tests at the clinic and at home."""
        return tested(self.visits, self.sessions)

    def reps(self, exercise: AnyExercise) -> list[RepRecord]:
        return [rep for session in self.sessions for rep in session.reps if rep.exercise_id == exercise.id]

    def order_of(self, session: LedgerSession) -> Prescription:
        """The revision in force then; the newest where it is not known."""
        known = {order.revision: order for order in self.orders}
        return known.get(session.start.revision, self.order)


def past_of(
    ledger: Ledger,
    prescription: Prescription,
    revisions: Sequence[Prescription],
    made_at: datetime,
    until: datetime | None,
    demonstration: bool,
    visits: Sequence[Entry] = (),
) -> Past:
    older = {one.revision: one for one in revisions if one.revision != prescription.revision}
    orders = (*(older[number] for number in sorted(older)), prescription)
    return Past(ledger, orders, made_at, min(until or made_at, made_at), demonstration, tuple(visits))
