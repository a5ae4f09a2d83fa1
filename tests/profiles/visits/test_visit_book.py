"""The book of visits: appended, tied together, private; and what it makes of the daily list."""

from __future__ import annotations

import stat
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from musclewood.profiles.caseload.attention import summary
from musclewood.profiles.caseload.summary import Facts
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.errors import ClinicError, StorageError
from musclewood.profiles.visits.book import VisitBook
from musclewood.profiles.visits.entries import (
    Away,
    Discharge,
    Examination,
    MuscleTrials,
    ReferenceTest,
    Result,
    Return,
    Trial,
    TrialSetAside,
)
from musclewood.profiles.visits.standing import latest, results_of

NOW = datetime(2026, 11, 29, 9, tzinfo=UTC)
CODE = "HB-0042"


def a_maximum() -> Result:
    trials = (Trial(value_uv=410.0), Trial(value_uv=395.0), Trial(value_uv=120.0, set_aside="early"))
    found = MuscleTrials(muscle="thigh", name="Vastus medialis", side="left", channel=0, rest_uv=3.0, trials=trials)
    return ReferenceTest(reference="maximum", found=found, reference_uv=402.0, low_uv=370.0, high_uv=437.0)


@pytest.fixture
def book(tmp_path: Path) -> VisitBook:
    return VisitBook(tmp_path / "visits")


def test_entries_are_appended_and_private(book: VisitBook) -> None:
    first = book.add(CODE, Examination(result=a_maximum(), pain=(0, 1)), NOW, "AB")
    kept = next(book.folder.glob("*.json")).read_bytes()
    book.add(CODE, TrialSetAside(entry=1, trial=2, reason="moved"), NOW + timedelta(minutes=1), "KL")
    assert next(iter(sorted(book.folder.glob("*.json")))).read_bytes() == kept
    assert [entry.number for entry in book.entries(CODE)] == [1, 2]
    assert book.entries(CODE)[0] == first
    assert {stat.S_IMODE(path.stat().st_mode) for path in book.folder.glob("*.json")} == {0o600}
    assert stat.S_IMODE(book.folder.stat().st_mode) == 0o700


def test_a_trial_taken_out_later_is_set_aside_and_its_entry_stays(book: VisitBook) -> None:
    book.add(CODE, Examination(result=a_maximum()), NOW)
    book.add(CODE, TrialSetAside(entry=1, trial=2, reason="moved"), NOW)
    found = latest(book.entries(CODE), ReferenceTest)
    assert found and isinstance(found.result, ReferenceTest)
    assert found.result.found.used_uv == (410.0,)
    assert isinstance(found.entry.content, Examination) and found.entry.content.result == a_maximum()


@pytest.mark.parametrize("harm", ["change", "remove"])
def test_what_was_changed_or_removed_is_seen(book: VisitBook, harm: str) -> None:
    for _ in range(3):
        book.add(CODE, Examination(result=a_maximum()), NOW)
    second = sorted(book.folder.glob("*.json"))[1]
    if harm == "change":
        second.write_text(second.read_text().replace("395", "495"))
    else:
        second.unlink()
    with pytest.raises(StorageError, match="changed or is missing"):
        book.entries(CODE)


def test_initials_are_a_code_and_no_name(book: VisitBook) -> None:
    for wrong in ("Anna", "a", "A B", "ANNA BERG"):
        with pytest.raises(ClinicError, match="initials"):
            book.add(CODE, Return(on=NOW.date()), NOW, wrong)
    assert not book.by_patient()


def test_nobody_who_is_away_counts_as_silent() -> None:
    """An invented history: ordered every weekday, last seen three weeks ago, away for all but three days of it."""
    today = date(2026, 11, 29)
    facts = Facts(
        CODE,
        revision=1,
        issued=today - timedelta(days=40),
        days=("mon", "tue", "wed", "thu", "fri"),
        last_handover=today - timedelta(days=21),
        last_session=today - timedelta(days=21),
    )
    silent = summary(facts, today, silent_days=7, review_days_ahead=7)
    assert [reason.key for reason in silent.attention] == ["silent"]
    span = (today - timedelta(days=20), today - timedelta(days=3))
    away = summary(Facts(**{**vars(facts), "away": (span,)}), today, silent_days=7, review_days_ahead=7)
    assert not away.attention
    back = summary(Facts(**{**vars(facts), "away": (span,)}), today + timedelta(7), silent_days=7, review_days_ahead=7)
    assert [(reason.key, reason.figures["days"]) for reason in back.attention] == [("silent", 10)]


def test_whoever_was_discharged_leaves_the_daily_list_until_a_return(tmp_path: Path) -> None:
    clinic, today = Clinic(tmp_path / "desk"), NOW.date()
    clinic.visits.add(CODE, Examination(result=a_maximum()), NOW)
    assert [row.patient for row in clinic.patients(today)] == [CODE]
    clinic.visits.add(CODE, Discharge(on=today, why="goal reached", sessions=31), NOW, "AB")
    assert clinic.patients(today) == []
    assert [row.patient for row in clinic.patients(today, discharged=True)] == [CODE]
    clinic.visits.add(CODE, Return(on=today), NOW)
    assert [row.patient for row in clinic.patients(today)] == [CODE]
    assert len(results_of(clinic.visits.entries(CODE))) == 1


def test_an_absence_needs_its_days_in_order() -> None:
    with pytest.raises(ValueError, match="before the first"):
        Away(first=date(2026, 12, 2), last=date(2026, 12, 1))


def test_one_broken_entry_hides_no_other_patient(tmp_path: Path) -> None:
    clinic, today = Clinic(tmp_path / "desk"), NOW.date()
    clinic.visits.add(CODE, Away(first=today, last=today), NOW)
    clinic.visits.add("HB-0043", Examination(result=a_maximum()), NOW)
    next(clinic.visits.folder.glob(f"{CODE}*.json")).write_bytes(b"{")
    rows = {row.patient: row for row in clinic.patients(today)}
    assert [reason.key for reason in rows[CODE].attention] == ["unreadable"]
    assert not rows["HB-0043"].attention
