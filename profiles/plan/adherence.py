"""What was ordered beside what was done, by calendar day in the patient's zone.

There is no agreed definition of adherence (Bailey 2020, BJSM 54:326), so both rates are given: uncapped, where more on
one day makes up for less on another, and capped, where a session never counts for more than it was ordered.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

from musclewood.profiles.journal.ledger import LedgerSession, counted
from musclewood.profiles.orders.exercises import reps_of
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS

# A session is whole from this share of its ordered reps on: the lower end of what studies most often call
# satisfactory (80 to 99 % of the dose, Bailey 2020).
WHOLE_SESSION = 0.8


@dataclass(frozen=True)
class DayDone:
    """One calendar day. `capped_reps` never exceed the order, `sessions_whole` are those with
    at least 80 % of theirs."""

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
class ClockDoubt:
    """A session whose time cannot be right. `kind` is 'earlier', 'before_order', 'future' or 'ends_early'."""

    kind: str
    session_id: int
    day: date


@dataclass(frozen=True)
class Adherence:
    days: tuple[DayDone, ...]
    clock_doubts: tuple[ClockDoubt, ...] = ()

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
    done = [session_done(session, zone) for session in sessions if session.reps]
    doubts = tuple(clock_doubts(sessions, revisions, last, zone))
    return Adherence(days_done(revisions, done, first, last), doubts)


# Days that the share of the order looks back on. Our choice: four weeks are about one review.
LATELY_DAYS = 28


def last_known(sessions: Sequence[LedgerSession], until: date, zone: tzinfo | None) -> date:
    """The last day that a record which ends on `until` can tell of: that day if something was done on it.

    Otherwise the day before: the day was not over yet, so that nothing was done on it is not known.
    """
    done = any(session.reps and session.day(zone) == until for session in sessions)
    return until if done else until - timedelta(days=1)


def lately(
    revisions: Sequence[Prescription], sessions: Sequence[LedgerSession], until: date, zone: tzinfo | None
) -> Adherence | None:
    """The latest four weeks that are known: whoever says 'share of the order' means the `reps_capped_pct` of these."""
    last = last_known(sessions, until, zone)
    first = max(min(one.issued for one in revisions), last - timedelta(days=LATELY_DAYS - 1))
    if last < first:
        return None
    in_time = [session for session in sessions if first <= session.day(zone) <= last]
    return adherence(revisions, in_time, first, last, zone)


@dataclass(frozen=True)
class SessionDone:
    """What counts of one session with at least one attempt. `made` are counted reps by exercise."""

    day: date
    made: Mapping[str, int]
    attempted: int
    sets_done: int
    in_band_s: float


def session_done(session: LedgerSession, zone: tzinfo | None) -> SessionDone:
    made = counted(session.reps)
    return SessionDone(
        day=session.day(zone),
        made=Counter(rep.exercise_id for rep in made),
        attempted=len(session.reps),
        sets_done=sum(1 for one in session.sets if one.reps_counted >= one.reps_ordered),
        in_band_s=sum(rep.in_band_s for rep in made),
    )


def days_done(
    revisions: Sequence[Prescription], sessions: Sequence[SessionDone], first: date, last: date
) -> tuple[DayDone, ...]:
    """Every day from `first` to `last`, both included."""
    by_day: dict[date, list[SessionDone]] = {}
    for session in sessions:
        by_day.setdefault(session.day, []).append(session)
    asked = {revision.revision: _Asked.of(revision) for revision in revisions}
    days = (first + timedelta(days=offset) for offset in range(max(0, (last - first).days + 1)))
    return tuple(_day_done(day, _asked_on(day, revisions, asked), by_day.get(day, [])) for day in days)


@dataclass(frozen=True)
class _Asked:
    """What an order asks of one session, and how many sessions a day has."""

    times: int
    reps: Mapping[str, int]
    reps_in_all: int
    sets: int
    in_band_s: float

    @classmethod
    def of(cls, order: Prescription) -> _Asked:
        reps = {exercise.id: reps_of(exercise) for exercise in order.exercises}
        sets = sum(exercise.sets for exercise in order.exercises)
        in_band_s = sum(reps_of(exercise) * exercise.hold_s for exercise in order.exercises)
        return cls(order.sessions_per_day, reps, sum(reps.values()), sets, in_band_s)


_NOTHING = _Asked(0, {}, 0, 0, 0.0)


def _asked_on(day: date, revisions: Sequence[Prescription], asked: Mapping[int, _Asked]) -> _Asked:
    order = in_force(revisions, day)
    return asked[order.revision] if order is not None and DAYS[day.weekday()] in order.days else _NOTHING


def _day_done(day: date, asked: _Asked, sessions: Sequence[SessionDone]) -> DayDone:
    kept = [sum(min(made, asked.reps.get(key, 0)) for key, made in session.made.items()) for session in sessions]
    return DayDone(
        day=day,
        sessions_ordered=asked.times,
        sessions_done=len(sessions),
        sessions_whole=sum(1 for one in kept if asked.reps_in_all and one / asked.reps_in_all >= WHOLE_SESSION),
        sets_ordered=asked.times * asked.sets,
        sets_done=sum(session.sets_done for session in sessions),
        reps_ordered=asked.times * asked.reps_in_all,
        reps_counted=sum(sum(session.made.values()) for session in sessions),
        reps_capped=min(sum(kept), asked.times * asked.reps_in_all),
        reps_attempted=sum(session.attempted for session in sessions),
        in_band_ordered_s=asked.times * asked.in_band_s,
        in_band_s=sum(session.in_band_s for session in sessions),
    )


def clock_doubts(
    sessions: Sequence[LedgerSession], revisions: Sequence[Prescription], last: date, zone: tzinfo | None
) -> list[ClockDoubt]:
    """Every session whose time cannot be right; it is still counted on the day it claims."""
    doubts = []
    before: datetime | None = None
    earliest = min((revision.issued for revision in revisions), default=None)
    for session in sessions:
        started, day = session.started, session.day(zone)
        kinds = {
            "earlier": before is not None and started < before,
            "before_order": earliest is not None and day < earliest,
            "future": day > last,
            "ends_early": session.end is not None and datetime.fromisoformat(session.end.ended_at) < started,
        }
        doubts += [ClockDoubt(kind, session.session_id, day) for kind, is_so in kinds.items() if is_so]
        before = started
    return doubts
