"""Hand-overs come back to the desk: the new computer is asked about, the list follows, the report is written."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pygame
import pytest
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.exchange.admission import import_prescription
from musclewood.profiles.exchange.folder import send_handovers
from musclewood.profiles.exchange.places import LocalPlace
from musclewood.profiles.handover.package import write_handover
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import CalibrationRecord, RatingRecord, RepRecord, SessionEnd, SessionStart
from musclewood.profiles.trust.pins import PinFolder
from musclewood.profiles.trust.senders import SenderFolder, sealer, sender_words

PASSPHRASE = "four quiet hornbeam leaves"
TODAY = date(2026, 11, 25)
CODE = "HB-0042"


@pytest.fixture
def ordered(clinic: Clinic, tmp_path: Path) -> Clinic:
    """A clinic that issued one order."""
    (tmp_path / "stick").mkdir()
    clinic.save_settings(DeskSettings(clinic="Hornbeam practice", exchange=str(tmp_path / "stick")))
    keys = clinic.make_key(PASSPHRASE)
    clinic.issue(
        clinic.draft_from_template("weak-thigh-after-knee-operation", CODE, TODAY - timedelta(days=6)).set(
            "muscles.0.side", "left"
        ),
        keys,
    )
    return clinic


@pytest.fixture
def come_back(ordered: Clinic, tmp_path: Path) -> Callable[..., tuple[str, ...]]:
    """A computer at home plays, with some pain, and hands over; gives its words."""

    def run(computer: str = "home", pain: int = 2) -> tuple[str, ...]:
        root, stick = tmp_path / computer, tmp_path / "stick"
        (issued,) = (stick / "to-home" / CODE).iterdir()
        pins, senders = PinFolder(root / "trust"), SenderFolder(root / "trust")
        content = issued.read_bytes()
        admission = import_prescription(content, root / "order.toml", pins, today=TODAY, confirm=lambda _: True)
        moment = datetime(2026, 11, 25, 11, tzinfo=UTC)
        with Journal.open(root / "journal.sqlite") as journal:
            for back in (4, 2, 0):
                at = moment - timedelta(days=back, hours=1)
                session = journal.begin_session(SessionStart(CODE, 1, "ble", at.isoformat(), "Europe/Prague"))
                figures = (30.0, 3.0, 180.0 - back, 0.05, (171.0, 180.0, 175.0), 180.0)
                journal.add(session, CalibrationRecord("vastus-medialis", 0, *figures))
                journal.add(session, RatingRecord(60.0, "pain", pain, "before"))
                rep = (60.0, 65.5, 5.5, 5.0, 35.0, 40.0, 0.94, 80.0, 35.0, 8.0)
                exercise = admission.prescription.exercises[0].id
                journal.add(session, RepRecord(exercise, "hold", "kiln", 1, 1, "counted", *rep, None, (30.0, 35.0)))
                journal.end_session(session, SessionEnd((at + timedelta(minutes=9)).isoformat(), "complete"))
            seal = sealer(CODE, pins, senders, made=moment)
            write_handover(journal, admission.prescription, root / "outbox", seal=seal, now=moment)
        send_handovers(root / "outbox", LocalPlace(stick))
        return sender_words(senders.load(CODE).public)

    return run


def _unlock(at: Any) -> None:
    at.press("collect")
    at.type(PASSPHRASE)
    at.key(pygame.K_RETURN)


def test_a_new_computer_is_asked_about_and_then_known(
    hands: Callable[..., Any], ordered: Clinic, come_back: Callable[..., tuple[str, ...]]
) -> None:
    spoken = come_back()
    at = hands()
    _unlock(at)
    page = at.app.top
    assert [sender.words for sender in page.asked] == [spoken]
    at.press("yes")
    assert page.done and not page.asked
    assert [text for _, text in page.lines] == [f"{CODE}: received."]
    assert page._keys is None
    at.press("back")
    row = at.app.top.found()[0]
    assert row.last_handover == TODAY and row.maxima
    _unlock(at)  # nothing new, nothing asked again
    assert at.app.top.done and at.app.top.lines == []


def test_a_computer_with_other_words_is_not_taken(
    hands: Callable[..., Any], ordered: Clinic, come_back: Callable[..., tuple[str, ...]]
) -> None:
    come_back()
    at = hands()
    _unlock(at)
    at.key(pygame.K_ESCAPE)  # the question waits for its answer
    assert at.app.top.asked
    at.press("no")
    assert at.app.top.done
    assert len(at.app.top.lines) == 1 and "not the same" in at.app.top.lines[0][1]
    assert ordered.patient(CODE, TODAY).last_handover is None


def test_two_computers_at_once_are_two_questions(
    hands: Callable[..., Any], ordered: Clinic, come_back: Callable[..., tuple[str, ...]]
) -> None:
    come_back("home")
    come_back("cottage")
    at = hands()
    _unlock(at)
    assert len(at.app.top.asked) == 2
    at.press("yes")
    at.press("no")
    texts = [text for _, text in at.app.top.lines]
    assert sum("received" in text for text in texts) == 1
    assert sum("not the same" in text for text in texts) == 1


def test_pain_comes_first_and_the_report_opens(
    hands: Callable[..., Any], ordered: Clinic, come_back: Callable[..., tuple[str, ...]], tmp_path: Path
) -> None:
    come_back(pain=9)
    shown: list[Path] = []
    at = hands(shown=shown)
    _unlock(at)
    at.press("yes")
    at.press("back")
    assert at.app.top.found()[0].attention[0].key == "pain"
    at.press(CODE)
    page = at.app.top
    assert page.weeks and 0 < page.weeks[-1] < 20
    at.press("report")
    assert shown == [tmp_path / "desk" / "reports" / f"{CODE}.html"]
    assert CODE in shown[0].read_text("utf-8")


def test_a_wrong_passphrase_opens_nothing(hands: Callable[..., Any], ordered: Clinic) -> None:
    at = hands()
    at.press("collect")
    at.type("something else altogether")
    at.key(pygame.K_RETURN)
    assert at.app.top.trouble == at.app.top.theme.words("desk.sign.wrong")
    assert at.app.top._keys is None


def test_a_folder_that_is_gone_is_a_sentence(hands: Callable[..., Any], ordered: Clinic, tmp_path: Path) -> None:
    (tmp_path / "stick").rename(tmp_path / "pulled-out")
    at = hands()
    _unlock(at)
    assert "memory stick" in at.app.top.trouble


def test_an_order_that_was_damaged_on_the_disk_does_not_keep_the_desk_shut(
    hands: Callable[..., Any], ordered: Clinic, tmp_path: Path
) -> None:
    (path,) = (tmp_path / "desk" / "orders").iterdir()
    path.write_bytes(path.read_bytes().replace(b"reps =", b"reps ="[::-1], 1))
    at = hands()
    assert at.screen() == "PatientsPage"
    assert at.app.top.trouble or at.app.top.found()
