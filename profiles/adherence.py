"""What was ordered beside what was done, by calendar day in the patient's zone.

There is no agreed definition of adherence (Bailey 2020, BJSM 54:326), so both rates are given: uncapped, where more on
one day makes up for less on another, and capped, where a session never counts for more than it was ordered.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

from musclewood.profiles.exercises import reps_of
from musclewood.profiles.ledger import LedgerSession, counted
from musclewood.profiles.prescription import DAYS, Prescription

# A session is whole from this share of its ordered reps on: the lower end of what studies most often call
# satisfactory (80 to 99 % of the dose, Bailey 2020).
WHOLE_SESSION = 0.8


@dataclass(frozen=True)
class DayDone:
    """One calendar day. `capped_reps` never exceed the order, `sessions_whole` are those with at least 80 % of theirs."""

    day: date
    sessions_ordered: int
    sessions_done: int
    sessions_whole: int
    sets_ordered: int
    sets_done: int
    reps_ordered: int
    reps_counted: int
    reps_capped: int
    reps_attempted: int
    in_band_ordered_s: float
    in_band_s: float

    @property
    def rest_day(self) -> bool:
        return self.sessions_ordered == 0


@dataclass(frozen=True)
class Adherence:
    days: tuple[DayDone, ...]
    clock_doubts: tuple[str, ...] = ()

    def _sum(self, name: str) -> float:
        return float(sum(getattr(day, name) for day in self.days))

    def _share(self, done: str, ordered: str) -> float | None:
        whole = self._sum(ordered)
        return 100 * self._sum(done) / whole if whole else None

    @property
    def reps_uncapped_pct(self) -> float | None:
        return self._share("reps_counted", "reps_ordered")

    @property
    def reps_capped_pct(self) -> float | None:
        return self._share("reps_capped", "reps_ordered")

    @property
    def sessions_pct(self) -> float | None:
        """Whole sessions in % of those ordered, a day never counting for more than its order."""
        ordered = self._sum("sessions_ordered")
        if not ordered:
            return None
        return 100 * sum(min(day.sessions_whole, day.sessions_ordered) for day in self.days) / ordered

    @property
    def sets_pct(self) -> float | None:
        return self._share("sets_done", "sets_ordered")

    @property
    def in_band_pct(self) -> float | None:
        return self._share("in_band_s", "in_band_ordered_s")


def in_force(revisions: Sequence[Prescription], day: date) -> Prescription | None:
    """The revision that counts on a day: the latest issued by then, if it has not ended."""
    issued = [revision for revision in revisions if revision.issued <= day]
    if not issued:
        return None
    latest = max(issued, key=lambda revision: (revision.issued, revision.revision))
    return None if latest.expires and day > latest.expires else latest


def adherence(
    revisions: Sequence[Prescription],
    sessions: Sequence[LedgerSession],
    first: date,
    last: date,
    zone: tzinfo | None,
) -> Adherence:
    """Every day from `first` to `last`, both included. `sessions` must hold no practice that shall not count."""
    by_day: dict[date, list[LedgerSession]] = {}
    for session in sessions:
        by_day.setdefault(session.day(zone), []).append(session)
    number = (last - first).days + 1
    days = (first + timedelta(days=offset) for offset in range(max(0, number)))
    table = tuple(_day_done(day, in_force(revisions, day), by_day.get(day, [])) for day in days)
    return Adherence(table, tuple(clock_doubts(sessions, revisions, last, zone)))


def _day_done(day: date, order: Prescription | None, sessions: Sequence[LedgerSession]) -> DayDone:
    with_dose = [session for session in sessions if session.reps]
    due = order is not None and DAYS[day.weekday()] in order.days
    times = order.sessions_per_day if order and due else 0
    exercises = order.exercises if order and due else ()
    ordered = {exercise.id: reps_of(exercise) for exercise in exercises}
    reps_a_session = sum(ordered.values())
    shares, capped = [], 0
    for session in with_dose:
        made = Counter(rep.exercise_id for rep in counted(session.reps))
        kept = sum(min(number, ordered.get(exercise_id, 0)) for exercise_id, number in made.items())
        shares.append(kept / reps_a_session if reps_a_session else 0.0)
        capped += kept
    reps = [rep for session in with_dose for rep in session.reps]
    return DayDone(
        day=day,
        sessions_ordered=times,
        sessions_done=len(with_dose),
        sessions_whole=sum(share >= WHOLE_SESSION for share in shares),
        sets_ordered=times * sum(exercise.sets for exercise in exercises),
        sets_done=sum(1 for session in with_dose for one in session.sets if one.reps_counted >= one.reps_ordered),
        reps_ordered=times * reps_a_session,
        reps_counted=len(counted(reps)),
        reps_capped=min(capped, times * reps_a_session),
        reps_attempted=len(reps),
        in_band_ordered_s=times * sum(reps_of(exercise) * exercise.hold_s for exercise in exercises),
        in_band_s=sum(rep.in_band_s for rep in counted(reps)),
    )


def clock_doubts(
    sessions: Sequence[LedgerSession], revisions: Sequence[Prescription], last: date, zone: tzinfo | None
) -> list[str]:
    """A sentence for every session whose time cannot be right; it is still counted on the day it claims."""
    doubts = []
    before: datetime | None = None
    earliest = min((revision.issued for revision in revisions), default=None)
    for session in sessions:
        started, day = session.started, session.day(zone)
        name = f"Session {session.session_id} ({day.isoformat()})"
        if before is not None and started < before:
            doubts.append(f"{name} claims to be earlier than the one before it: the computer's clock was changed.")
        if earliest is not None and day < earliest:
            doubts.append(f"{name} lies before the prescription was issued.")
        if day > last:
            doubts.append(f"{name} lies in the future.")
        if session.end is not None and datetime.fromisoformat(session.end.ended_at) < started:
            doubts.append(f"{name} claims to end before it began.")
        before = started
    return doubts
