"""What the journal says about the past, as plain values that the rules can use without the file."""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

from musclewood.profiles.journal.journal import Journal, SessionSummary
from musclewood.profiles.journal.records import (
    CUT_SHORT_TIRED,
    CalibrationRecord,
    RatingRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
)

# Scaling looks at this many sessions back and no further: older reps say little about today's skill, and Today must
# open at once after a year of sessions. Our choice.
SESSIONS_FOR_SCALING = 12
# A session dated so little in the future was done before somebody set the clock back, and counts for today. One dated
# further ahead was done while the clock was wrong, and must not hold up the plan. Our choice: a day, and some travel.
CLOCK_SET_BACK = timedelta(hours=36)


@dataclass(frozen=True)
class PastRep:
    """What scaling needs of one attempt."""

    exercise_id: str
    verdict: str
    target_pct_mvc: float
    tolerance_pct_mvc: float


@dataclass(frozen=True)
class PastSession:
    """One session that counts (no practice). `reps` and `tired` (exercises in which a set was cut short because
    the muscle tired) and `declines` (the largest fall of the median frequency in a set, % by exercise) are filled for
    recent sessions only."""

    session_id: int
    start: SessionStart
    end: SessionEnd | None
    counted: dict[str, int]
    attempts: dict[str, int]
    highest_pain: int | None = None
    first_pain: int | None = None
    reps: tuple[PastRep, ...] = ()
    tired: frozenset[str] = frozenset()
    declines: Mapping[str, float] = field(default_factory=dict)

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

    def ahead_of(self, now: datetime | None) -> list[PastSession]:
        """Sessions dated a little after `now`: the clock was set back, and they have just been done."""
        if now is None:
            return []
        return [session for session in self.sessions if now < session.started <= now + CLOCK_SET_BACK]

    def between(self, first: date, last: date, zone: tzinfo | None) -> list[PastSession]:
        return [session for session in self.sessions if first <= session.day(zone) <= last]


def zone_of(name: str | None) -> tzinfo | None:
    """A time zone by name; None, which means the computer's own zone, if there is no name."""
    return ZoneInfo(name) if name else None


def read_history(journal: Journal, *, recent: int = SESSIONS_FOR_SCALING, practice_too: bool = False) -> History:
    """Everything that today's plan depends on. Practice is left out here, once, so that no rule can count it.

    `practice_too` is for a demonstration alone, in which a simulated muscle stands for the real thing.
    """
    counting = [summary for summary in journal.sessions() if practice_too or not summary.practice]
    since = counting[-recent:][0].session_id if counting and recent else sys.maxsize
    details = _details(journal, since)
    sessions = tuple(_past(summary, details.get(summary.session_id, _Details())) for summary in counting)
    known = {summary.session_id for summary in counting}
    calibrations = [entry for entry in journal.records_since(0, CalibrationRecord) if entry[0] in known]
    return History(sessions, tuple(calibrations))


@dataclass
class _Details:
    reps: list[PastRep] = field(default_factory=list)
    pains: list[int] = field(default_factory=list)
    tired: set[str] = field(default_factory=set)
    declines: dict[str, float] = field(default_factory=dict)


def _details(journal: Journal, since: int) -> dict[int, _Details]:
    """What scaling and safety need: pain of every session, reps and tired muscles from `since` on."""
    found: dict[int, _Details] = defaultdict(_Details)
    for session_id, exercise_id, verdict, target, tolerance in journal.reps_asked_since(since):
        found[session_id].reps.append(PastRep(exercise_id, verdict, target, tolerance))
    for session_id, rating in journal.records_since(0, RatingRecord):
        if rating.what == "pain":
            found[session_id].pains.append(rating.value)
    for session_id, one in journal.records_since(since, SetRecord):
        if one.cut_short == CUT_SHORT_TIRED:
            found[session_id].tired.add(one.exercise_id)
        if one.median_frequency_decline_pct is not None:
            declines = found[session_id].declines
            declines[one.exercise_id] = max(one.median_frequency_decline_pct, declines.get(one.exercise_id, 0.0))
    return found


def _past(summary: SessionSummary, details: _Details) -> PastSession:
    return PastSession(
        summary.session_id,
        summary.start,
        summary.end,
        summary.counted,
        summary.attempts,
        summary.highest_pain,
        details.pains[0] if details.pains else None,
        tuple(details.reps),
        frozenset(details.tired),
        details.declines,
    )
