"""What the journal says about the past, as plain values that the rules can use without the file."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from zoneinfo import ZoneInfo

from musclewood.profiles.journal import Journal, SessionSummary
from musclewood.profiles.records import (
    CUT_SHORT_TIRED,
    CalibrationRecord,
    RatingRecord,
    RepRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
)

# Scaling looks at this many sessions back and no further: older reps say little about today's skill, and Today must
# open at once after a year of sessions. Our choice.
SESSIONS_FOR_SCALING = 20


@dataclass(frozen=True)
class PastRep:
    """What scaling needs of one attempt."""

    exercise_id: str
    verdict: str
    target_pct_mvc: float
    tolerance_pct_mvc: float


@dataclass(frozen=True)
class PastSession:
    """One session that counts (no practice). `attempts` is always filled; `reps`, `first_pain` and `tired`
    (exercises in which a set was cut short because the muscle tired) only for recent sessions."""

    session_id: int
    start: SessionStart
    end: SessionEnd | None
    counted: dict[str, int]
    attempts: dict[str, int]
    highest_pain: int | None = None
    first_pain: int | None = None
    reps: tuple[PastRep, ...] = ()
    tired: frozenset[str] = frozenset()

    @property
    def started(self) -> datetime:
        return datetime.fromisoformat(self.start.started_at)

    @property
    def ended(self) -> datetime:
        return datetime.fromisoformat(self.end.ended_at) if self.end else self.started

    @property
    def minutes(self) -> float:
        return max(0.0, (self.ended - self.started).total_seconds() / 60)

    def day(self, zone: tzinfo | None) -> date:
        """The patient's calendar day on which it began."""
        return self.started.astimezone(zone).date()


@dataclass(frozen=True)
class History:
    """All sessions that count, the oldest first, and every calibration as (session, record)."""

    sessions: tuple[PastSession, ...] = ()
    calibrations: tuple[tuple[int, CalibrationRecord], ...] = ()

    def on(self, day: date, zone: tzinfo | None) -> list[PastSession]:
        return [session for session in self.sessions if session.day(zone) == day]

    def between(self, first: date, last: date, zone: tzinfo | None) -> list[PastSession]:
        return [session for session in self.sessions if first <= session.day(zone) <= last]


def zone_of(name: str | None) -> tzinfo | None:
    """A time zone by name; None, which means the computer's own zone, if there is no name."""
    return ZoneInfo(name) if name else None


def read_history(journal: Journal, *, recent: int = SESSIONS_FOR_SCALING) -> History:
    """Everything that today's plan depends on. Practice is left out here, once, so that no rule can count it."""
    counting = [summary for summary in journal.sessions() if not summary.practice]
    with_reps = {summary.session_id for summary in counting[-recent:]} if recent else set()
    sessions = tuple(_past(journal, summary, summary.session_id in with_reps) for summary in counting)
    calibrations = tuple(
        (summary.session_id, record)
        for summary in counting
        for record in journal.records(summary.session_id, CalibrationRecord)
    )
    return History(sessions, calibrations)


def _past(journal: Journal, summary: SessionSummary, with_reps: bool) -> PastSession:
    reps: Iterable[RepRecord] = ()
    first_pain, tired = None, frozenset[str]()
    if with_reps:
        reps = journal.records(summary.session_id, RepRecord)
        ratings = journal.records(summary.session_id, RatingRecord)
        pains = [rating.value for rating in ratings if rating.what == "pain"]
        first_pain = pains[0] if pains else None
        sets = journal.records(summary.session_id, SetRecord)
        tired = frozenset(one.exercise_id for one in sets if one.cut_short == CUT_SHORT_TIRED)
    return PastSession(
        summary.session_id,
        summary.start,
        summary.end,
        summary.counted,
        summary.attempts,
        summary.highest_pain,
        first_pain,
        tuple(PastRep(rep.exercise_id, rep.verdict, rep.target_pct_mvc, rep.tolerance_pct_mvc) for rep in reps),
        tired,
    )
