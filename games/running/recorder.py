"""From what happened to the journal.  Only what has come back from here may be shown, heard or printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from musclewood.games.engine.session_events import Happening, SessionOver
from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import SessionEnd, SessionStart, Source
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.trusted_time import SIGN_OF_LIFE_S

Clock = Callable[[], datetime]

SOFTWARE = "musclewood"
SIGN_OF_LIFE = timedelta(seconds=SIGN_OF_LIFE_S)


class Recorder:
    """Writes one session into a journal, each record durable before `write` returns.

    `clock` gives an aware date and time; `note` is added to the session's end, such as that nobody watched.
    `sensor` is the name of its description, never what it calls itself: that may hold a person's name.
    """

    def __init__(
        self,
        journal: Journal,
        prescription: Prescription,
        source: Source,
        clock: Clock,
        note: str = "",
        sensor: str = "",
    ) -> None:
        self._journal, self._clock, self._note = journal, clock, note
        self._zone = zone_of(prescription.timezone)
        self._start = SessionStart(
            patient=prescription.patient,
            revision=prescription.revision,
            source=source,
            started_at=self._now(),
            zone=prescription.timezone or "",
            software=SOFTWARE,
            sensor=sensor,
        )
        self._session_id: int | None = None
        self._last_sign = self._clock()
        self.ended = False

    def begin(self) -> int:
        """Open the session in the journal; returns its number.  Raises JournalError."""
        self._session_id = self._journal.begin_session(self._start)
        return self._session_id

    def write(self, happened: Sequence[Happening]) -> Sequence[Happening]:
        """Make every record durable, then hand the same happenings back.  Raises JournalError."""
        assert self._session_id is not None, "begin comes first"
        for happening in happened:
            if happening.record is not None:
                self._journal.add(self._session_id, happening.record)
            if isinstance(happening.what, SessionOver):
                notes = [note for note in (happening.what.note, self._note) if note]
                end = SessionEnd(self._now(), happening.what.ending, "; ".join(notes) or None)
                self._journal.end_session(self._session_id, end)
                self.ended = True
        return happened

    def live(self) -> None:
        """Let the journal know every few seconds that the session goes on.  Raises JournalError."""
        now = self._clock()
        if self._session_id is not None and not self.ended and abs(now - self._last_sign) >= SIGN_OF_LIFE:
            self._last_sign = now
            self._journal.beat(self._session_id)

    def _now(self) -> str:
        return self._clock().astimezone(self._zone).isoformat(timespec="milliseconds")
