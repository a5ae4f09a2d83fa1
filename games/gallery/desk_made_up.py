"""An invented clinic with invented patients, for pictures: nothing of it is real, and nothing of it touches a disk."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import cast

from musclewood.games.desk.base.office import Office
from musclewood.games.desk.form.offered import in_language
from musclewood.games.kit.words import Words
from musclewood.profiles.caseload.attention import Attention, PatientSummary
from musclewood.profiles.caseload.summary import Maximum
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.journal.ledger import Ledger
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
TODAY = NOON.date()
WORDS = ("anchor", "barley", "candle", "dolphin", "ember", "forest", "garden", "hazel", "island", "juniper")

_REASONS: tuple[Attention | None, ...] = (
    Attention(1, "pain", {"value": 6, "level": 5, "day": "2026-11-22"}),
    Attention(2, "silent", {"days": 12}),
    Attention(2, "never", {"days": 9}),
    Attention(3, "signal", {"percent": 38}),
    Attention(3, "pain_rising", {"value": 3, "level": 3, "day": "2026-11-20"}),
    Attention(4, "ceiling", {"exercise": "Tighten the thigh and hold"}),
    Attention(4, "tired", {"exercise": "Follow the slow wave", "times": 3}),
    Attention(5, "review_soon", {"day": "2026-11-30", "days": 5}),
    None,
)
from musclewood.profiles.visits.book import VisitBook


def patients(count: int) -> list[PatientSummary]:
    """So many, the most urgent first."""
    made = [_patient(number) for number in range(count)]
    return sorted(made, key=lambda one: (one.urgency, one.patient))


def _patient(number: int) -> PatientSummary:
    chance = random.Random(number)
    reason = _REASONS[number % len(_REASONS)]
    silent = reason is not None and reason.key == "never"
    more = [Attention(5, "review_soon", {"day": "2026-11-30", "days": 5})] if number % 4 == 0 and reason else []
    issued = TODAY - timedelta(days=chance.randrange(10, 60))
    return PatientSummary(
        patient=f"HB-{104 + 37 * number:04d}",
        revision=1 + number % 5,
        issued=issued,
        review=issued + timedelta(days=60),
        expires=None,
        last_handover=None if silent else TODAY - timedelta(days=number % 13),
        last_session=None if silent else TODAY - timedelta(days=number % 13),
        sessions=0 if silent else 10 + number % 30,
        adherence_pct=None if silent else chance.uniform(35, 100),
        maxima=() if silent else (maximum(number),),
        attention=(*([reason] if reason else []), *more),
    )


def maximum(number: int) -> Maximum:
    """A muscle that comes back slowly, with days that stray."""
    chance = random.Random(number + 900)
    level, days, track = chance.uniform(90, 240), [], []
    for session in range(16):
        days.append(session * 2)
        level *= 1 + chance.gauss(0.022, 0.035)
        track.append(level)
    real = track[-1] / track[0] > 1.3
    change = 100 * (track[-1] / track[0] - 1)
    return Maximum(
        "Vastus medialis, left", "involved", level, level * 0.83, level * 1.2, change, real, tuple(days), tuple(track)
    )


@dataclass
class StillClinic:
    """Stands in for a clinic's folder."""

    listed: Sequence[PatientSummary] = ()
    has_key: bool = True
    root: Path = Path("desk")
    key_path: Path = Path("desk/clinic-key.toml")
    settings: DeskSettings = field(default_factory=lambda: DeskSettings(clinic="Hornbeam Clinic", exchange="Exchange"))

    @property
    def visits(self) -> VisitBook:
        """Nothing was ever written into it."""
        return VisitBook(self.root / "visits")

    def words(self) -> tuple[str, ...]:
        return WORDS if self.has_key else ()

    def patients(self, today: date) -> list[PatientSummary]:
        return list(self.listed)

    def state(self) -> tuple[int, ...]:
        return ()

    def named(self, arrivals: Sequence[object]) -> None:
        """Nothing ever arrives here."""

    def orders(self, code: str) -> tuple[Prescription, ...]:
        return (_order(code, self.settings.language),)

    def done(self, code: str) -> Ledger:
        return Ledger(())

    def draft_from_last(self, code: str, today: date) -> Draft:
        last = _order(code, self.settings.language)
        document = last.model_dump() | {"revision": 4, "issued": today, "review": today + timedelta(days=21)}
        return Draft(document, last)

    def draft_from_template(self, name: str, patient: str, today: date) -> Draft:
        document = template(name).model_dump() | {"patient": patient, "issued": today}
        return Draft(document | {"review": today + timedelta(days=21)}, None)


def _order(code: str, language: str) -> Prescription:
    """As the desk makes it, with titles and places in the patient's language."""
    own = {"patient": code, "revision": 3, "note": None, "issued": TODAY - timedelta(days=30), "language": language}
    document = template("co-contracting-hamstring").model_dump() | own
    return Prescription.model_validate(in_language(document, language))


def office(count: int = 40, *, has_key: bool = True, language: str = "en") -> Office:
    """The desk of an invented clinic; nothing can really be issued."""
    clinic = StillClinic(patients(count), has_key)
    clinic.settings = clinic.settings.model_copy(update={"language": language})
    made = Office(cast(Clinic, clinic), lambda: NOON, lambda settings: None, lambda path: None)
    made.look(Words())
    return made


def with_reasons(one: PatientSummary, *reasons: Attention) -> PatientSummary:
    return replace(one, attention=reasons)
