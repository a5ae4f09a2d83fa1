"""What the journal says about the past, as plain values that the rules can use without the file."""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from zoneinfo import ZoneInfo

from musclewood.profiles.journal.journal import Journal, Reading, SessionSummary
from musclewood.profiles.journal.records import (
    CUT_SHORT_TIRED,
    CalibrationRecord,
    RatingRecord,
    RetestRecord,
    ScalingRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
)

# Scaling looks at this many sessions back and no further: older reps say little about today's skill, and Today must
# open at once after a year of sessions. Our choice.
SESSIONS_FOR_SCALING = 12


@dataclass(frozen=True)
class PastRep:
    """What scaling needs of one attempt."""

    exercise_id: str
    verdict: str
    target_pct_mvc: float
    tolerance_pct_mvc: float
    unseen: bool = False


@dataclass(frozen=True)
class PastSession:
    """One session that counts (no practice). `reps` and `tired` (exercises in which a set was cut short because
    the muscle tired) and `declines` (the largest fall of the median frequency in a set, % by exercise) are filled only
    for recent sessions, and for the one in which an exercise was tried last. `left_at` is the target of an exercise
    that
    was moved after its last rep, `rests` the rest (s) that scaling gave it."""

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
    left_at: Mapping[str, float] = field(default_factory=dict)
    rests: Mapping[str, float] = field(default_factory=dict)

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
    """All sessions that count, the oldest first, and every calibration and test at home as (session, record).

    `readings` is what the clocks said, practice included, in the order it was written; `clocks` what they say now.
    """

    sessions: tuple[PastSession, ...] = ()
    calibrations: tuple[tuple[int, CalibrationRecord], ...] = ()
    readings: tuple[Reading, ...] = ()
    clocks: Reading | None = None
    tests: tuple[tuple[int, RetestRecord], ...] = ()

    def on(self, day: date, zone: tzinfo | None) -> list[PastSession]:
        return [session for session in self.sessions if session.day(zone) == day]

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
    details = _details(journal, _looked_at(counting, recent))
    sessions = tuple(_past(summary, details.get(summary.session_id, _Details())) for summary in counting)
    known = {summary.session_id for summary in counting}
    calibrations = [entry for entry in journal.records_since(0, CalibrationRecord) if entry[0] in known]
    tests = tuple(entry for entry in journal.records_since(0, RetestRecord) if entry[0] in known)
    return History(sessions, tuple(calibrations), tuple(journal.readings()), journal.clocks_now(), tests)


def _looked_at(counting: Sequence[SessionSummary], recent: int) -> frozenset[int]:
    """Sessions whose reps are read: the recent ones, and of every exercise of the latest order the last."""
    if not counting or not recent:
        return frozenset()
    last_tried = {
        exercise_id: summary.session_id
        for summary in counting
        if summary.start.revision == counting[-1].start.revision
        for exercise_id in summary.attempts
    }
    return frozenset(last_tried.values()) | {summary.session_id for summary in counting[-recent:]}


@dataclass
class _Details:
    reps: list[PastRep] = field(default_factory=list)
    pains: list[int] = field(default_factory=list)
    tired: set[str] = field(default_factory=set)
    declines: dict[str, float] = field(default_factory=dict)
    left_at: dict[str, float] = field(default_factory=dict)
    rests: dict[str, float] = field(default_factory=dict)


def _details(journal: Journal, looked_at: frozenset[int]) -> dict[int, _Details]:
    """What scaling and safety need: pain and rests of every session, reps and tired muscles of those looked at."""
    found: dict[int, _Details] = defaultdict(_Details)
    for asked in journal.asked_in(looked_at):
        of_session = found[asked.session_id]
        if asked.verdict is None:
            of_session.left_at[asked.exercise_id] = asked.target_pct_mvc
        else:
            of_session.left_at.pop(asked.exercise_id, None)
            of_session.reps.append(
                PastRep(
                    asked.exercise_id, asked.verdict, asked.target_pct_mvc, asked.tolerance_pct_mvc, bool(asked.unseen)
                )
            )
    for session_id, rating in journal.records_since(0, RatingRecord):
        if rating.what == "pain":
            found[session_id].pains.append(rating.value)
    for session_id, scaling in journal.records_since(0, ScalingRecord):
        found[session_id].rests[scaling.exercise_id] = scaling.rest_to_s
    for session_id, one in journal.records_since(min(looked_at, default=sys.maxsize), SetRecord):
        if session_id not in looked_at:
            continue
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
        details.left_at,
        details.rests,
    )
