"""What the pages of the desk share: the clinic's folder, the clock, and how to show a file. No key is kept here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from time import monotonic

from musclewood.games.kit.settings import Settings
from musclewood.games.kit.words import Words
from musclewood.games.kit.words import told as said_by
from musclewood.profiles.caseload.attention import Attention, PatientSummary
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.errors import HandoverError, PrescriptionError, TrustError

GLANCE_S = 1.0  # how often the folder is glanced at; five small calls to the disk
Clock = Callable[[], datetime]


@dataclass
class Office:
    """`clock` gives an aware moment; `show` opens a finished report; `keep` takes changed settings of the desk."""

    clinic: Clinic
    clock: Clock
    keep: Callable[[Settings], None]
    show: Callable[[Path], object]
    issued: str = ""  # the code of whom something was issued to last
    worn: tuple[str, str] = (
        "",
        "",
    )  # who was at the bench last, and by name what was on them; nothing for a simulated muscle
    version: int = 0
    _seen: list[PatientSummary] | None = field(default=None, repr=False)
    _state: tuple[int, ...] = ()
    _next_glance_s: float = 0.0

    @property
    def today(self) -> date:
        return self.clock().date()

    @property
    def stale(self) -> bool:
        """Whether somebody should `look` again: nobody looked yet, or something was issued or came in, here or by a
        command or another window beside this one."""
        if self._seen is None:
            return True
        now = monotonic()
        if now < self._next_glance_s:
            return False
        self._next_glance_s = now + GLANCE_S
        return self.clinic.state() != self._state

    def patients(self) -> list[PatientSummary]:
        """Everybody as last looked at, most urgent first."""
        return self._seen or []

    def look(self, words: Words) -> str:
        """Look at everybody; gives a sentence when that is not possible. May take a while after many hand-overs."""
        self.version += 1
        self._state = self.clinic.state()
        try:
            self._seen = self.clinic.patients(self.today)
        except (HandoverError, PrescriptionError, TrustError) as error:
            self._seen = []
            return as_sentence(words, error)
        return ""

    def forget(self) -> None:
        self._seen = None


def told(words: Words, attention: Attention) -> str:
    """Why somebody needs attention, in the reader's language."""
    return words.said(attention.sentence())


def ago(words: Words, day: date | None, today: date) -> str:
    """A day as people say it: today, yesterday, 9 days ago."""
    if day is None:
        return words("desk.ago.never")
    days = (today - day).days
    if days < 0:
        return day.isoformat()
    return words(f"desk.ago.{days}") if days < 2 else words("desk.ago.days", count=days)


def as_sentence(words: Words, reason: Exception | str) -> str:
    """What another room says of itself in a line, as a sentence in the reader's language."""
    text = (words.said(reason) if isinstance(reason, str) else said_by(words, reason)).strip()
    return f"{text[:1].upper()}{text[1:]}{'' if text.endswith('.') else '.'}"
