"""Everything that was done, read once, as plain values: what the hand-over carries and the report shows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from typing import TypeVar

from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import (
    CalibrationRecord,
    InterruptionRecord,
    RatingRecord,
    Record,
    RepRecord,
    RetestRecord,
    ScalingRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
)

OneRecord = TypeVar("OneRecord", bound=Record)


@dataclass(frozen=True)
class LedgerSession:
    """One session with all its records, in the order they were written."""

    session_id: int
    start: SessionStart
    end: SessionEnd | None
    records: tuple[Record, ...] = ()

    def of(self, kind: type[OneRecord]) -> list[OneRecord]:
        return [record for record in self.records if isinstance(record, kind)]

    @property
    def reps(self) -> list[RepRecord]:
        return self.of(RepRecord)

    @property
    def sets(self) -> list[SetRecord]:
        return self.of(SetRecord)

    @property
    def calibrations(self) -> list[CalibrationRecord]:
        return self.of(CalibrationRecord)

    @property
    def tests(self) -> list[RetestRecord]:
        """What a test that is repeated at home measured; a test has a session of its own."""
        return [one for one in self.of(RetestRecord) if one.trials_uv]

    @property
    def interruptions(self) -> list[InterruptionRecord]:
        return self.of(InterruptionRecord)

    @property
    def ratings(self) -> list[RatingRecord]:
        return self.of(RatingRecord)

    @property
    def scaling(self) -> list[ScalingRecord]:
        return self.of(ScalingRecord)

    @property
    def started(self) -> datetime:
        return datetime.fromisoformat(self.start.started_at)

    @property
    def practice(self) -> bool:
        return self.start.practice

    @property
    def pain_came_after(self) -> bool:
        """Whether pain called for a stop when all had been tried: the day is over, but nothing was cut short."""
        return self._pain_closed and self._pain_answered_after

    @property
    def cut_short_by_pain(self) -> bool:
        return self._pain_closed and not self._pain_answered_after

    @property
    def _pain_closed(self) -> bool:
        return self.end is not None and self.end.ending == "pain"

    @property
    def _pain_answered_after(self) -> bool:
        return any(one.what == "pain" and one.moment == "after" for one in self.ratings)

    def day(self, zone: tzinfo | None) -> date:
        return self.started.astimezone(zone).date()


@dataclass(frozen=True)
class Ledger:
    """All sessions, the oldest first, and what is known about the journal they come from."""

    sessions: tuple[LedgerSession, ...]
    journal_hash: str = ""
    problems: tuple[str, ...] = ()
    notices: tuple[str, ...] = field(default=())

    def counting(self, *, practice_too: bool = False) -> list[LedgerSession]:
        """The sessions that count as dose. A demonstration shows practice as if it were dose."""
        return [session for session in self.sessions if practice_too or not session.practice]


def read_ledger(journal: Journal) -> Ledger:
    """The whole journal. Raises JournalError."""
    sessions = tuple(
        LedgerSession(summary.session_id, summary.start, summary.end, tuple(journal.all_records(summary.session_id)))
        for summary in journal.sessions()
    )
    return Ledger(sessions, journal.last_hash(), tuple(journal.verify()), tuple(journal.notices()))


def counted(reps: Iterable[RepRecord]) -> list[RepRecord]:
    return [rep for rep in reps if rep.verdict == "counted"]
