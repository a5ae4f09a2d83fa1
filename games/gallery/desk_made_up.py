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
from musclewood.games.examining.outcomes import sides_test
from musclewood.games.kit.words import Words
from musclewood.profiles.caseload.attention import Attention, PatientSummary
from musclewood.profiles.caseload.summary import Maximum
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.journal.ledger import Ledger, LedgerSession
from musclewood.profiles.journal.records import RatingRecord, RepRecord, SessionEnd, SessionStart, Verdict
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
from musclewood.profiles.visits.entries import (
    Away,
    Content,
    Entry,
    Examination,
    MuscleTrials,
    Purpose,
    Side,
    Signed,
    Trial,
)


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

    def done(self, code: str, *, efforts: bool = False) -> Ledger:
        return Ledger(tuple(_session(number) for number in range(1, 9))) if efforts else Ledger(())

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


def _session(number: int) -> LedgerSession:
    """An evening of an invented patient: steadier and stronger each time."""
    at, chance = NOON - timedelta(days=3 * (9 - number), hours=number % 3), random.Random(number)
    start = SessionStart("HB-0104", 3, "ble", at.isoformat(), "Europe/Prague")
    reps = [_rep(number, place, chance) for place in range(10)]
    pain = RatingRecord(5.0, "pain", chance.randrange(3), "before")
    return LedgerSession(number, start, SessionEnd(at.isoformat(), "complete"), (pain, *reps))


def _rep(session: int, place: int, chance: random.Random) -> RepRecord:
    exercises = _order("HB-0104", "en").exercises
    exercise = exercises[min(place // 6, len(exercises) - 1)]
    target, band = exercise.effort.target_pct_mvc, exercise.effort.band_pct_mvc or 8.0
    wobble = 12.0 / session
    course = tuple(
        min(1.0, point / 6, (47 - point) / 4) * (target + chance.gauss(0, wobble) + (0 if place % 4 else -band))
        for point in range(48)
    )
    verdict: Verdict = "counted" if place % 4 else "short"
    return RepRecord(
        exercise.id, exercise.kind, exercise.workshops[0], 1, place + 1, verdict, 40.0 + 14 * place,
        45.5 + 14 * place, 5.5,
        5.0, target - 2, target + 6, 0.9, 60.0, target, band, chance.uniform(6, 14), course,
    )  # fmt: skip


def office(count: int = 40, *, has_key: bool = True, language: str = "en") -> Office:
    """The desk of an invented clinic; nothing can really be issued."""
    clinic = StillClinic(patients(count), has_key)
    clinic.settings = clinic.settings.model_copy(update={"language": language})
    made = Office(cast(Clinic, clinic), lambda: NOON, lambda settings: None, lambda path: None)
    made.look(Words())
    return made


def with_reasons(one: PatientSummary, *reasons: Attention) -> PatientSummary:
    return replace(one, attention=reasons)


def entries(code: str) -> tuple[Entry, ...]:
    """What an invented clinic wrote down: before the operation, after it, a pause, and who signed."""

    def side(which: Side, *values_uv: float) -> MuscleTrials:
        trials = tuple(Trial(value_uv=value) for value in values_uv)
        return MuscleTrials(muscle=which, name="Vastus medialis", side=which, channel=0, rest_uv=3.0, trials=trials)

    def tested(left: float, right: float, purpose: Purpose) -> Examination:
        involved, other = side("left", left, 1.03 * left, 0.98 * left), side("right", right, 0.97 * right, right)
        found = sides_test(involved, other, first="uninvolved", way="two channels", purpose=purpose)
        assert found is not None
        return Examination(result=found, pain=(0, 2), source="ble")

    contents: tuple[Content, ...] = (
        tested(260.0, 270.0, "before operation"),
        Signed(revision=1),
        tested(110.0, 255.0, "visit"),
        Signed(revision=2),
        Away(first=TODAY - timedelta(days=20), last=TODAY - timedelta(days=6)),
        tested(170.0, 262.0, "visit"),
    )
    start = NOON - timedelta(days=80)
    return tuple(
        Entry(
            patient=code,
            number=number,
            at=start + timedelta(days=14 * number),
            by="AB",
            before="0" * 64,
            content=content,
        )
        for number, content in enumerate(contents, start=1)
    )
