"""The desk without a window: who is there, what is issued, what comes back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.errors import ClinicError, PassphraseError, PrescriptionError, StorageError
from musclewood.profiles.exchange.admission import import_prescription
from musclewood.profiles.exchange.folder import send_handovers
from musclewood.profiles.exchange.places import LocalPlace
from musclewood.profiles.handover.package import write_handover
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.templates import template_names
from musclewood.profiles.trust.key_file import LOWEST
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.pins import PinFolder
from musclewood.profiles.trust.senders import SenderFolder, sealer
from musclewood.profiles.trust.signature import verify

TODAY = date(2026, 11, 25)
KNEE = "weak-thigh-after-knee-operation"
PASSPHRASE = "twig lantern kettle plank"


@pytest.fixture
def exchange(tmp_path: Path) -> Path:
    (tmp_path / "exchange").mkdir()
    return tmp_path / "exchange"


@pytest.fixture
def clinic(tmp_path: Path, exchange: Path) -> Clinic:
    desk = Clinic(tmp_path / "desk")
    desk.save_settings(DeskSettings(clinic="Hornbeam practice", exchange=str(exchange)))
    return desk


@pytest.fixture
def keys(clinic: Clinic) -> ClinicKeys:
    return clinic.make_key(PASSPHRASE, LOWEST)


@pytest.fixture
def come_back(exchange: Path, tmp_path: Path) -> Callable[[Callable[[Journal], None], str], None]:
    """A computer at home of some name: imports what lies there, plays, hands over, and sends."""

    def run(play: Callable[[Journal], None], computer: str = "home", made: datetime | None = None) -> None:
        root = tmp_path / computer
        trust = root / "trust"
        (issued,) = sorted((exchange / "to-home" / "HB-0042").iterdir())[-1:]
        admission = import_prescription(
            issued.read_bytes(), root / "prescription.toml", PinFolder(trust), today=TODAY, confirm=lambda _: True
        )
        moment = made or datetime(2026, 11, 25, 19, tzinfo=UTC)
        with Journal.open(root / "journal.sqlite") as journal:
            play(journal)
            seal = sealer("HB-0042", PinFolder(trust), SenderFolder(trust), made=moment)
            write_handover(journal, admission.prescription, root / "outbox", seal=seal, now=moment)
        send_handovers(root / "outbox", LocalPlace(exchange))

    return run


def test_the_key_opens_with_its_passphrase_alone_and_shows_its_words_without_it(
    clinic: Clinic, keys: ClinicKeys
) -> None:
    assert len(clinic.words()) == 10
    assert clinic.unlock(PASSPHRASE).identity == keys.identity
    with pytest.raises(PassphraseError):
        clinic.unlock("twig lantern kettle blank")
    clinic.relock(PASSPHRASE, "four other plain words", LOWEST)
    assert clinic.unlock("four other plain words").identity == keys.identity
    with pytest.raises(PassphraseError):
        clinic.unlock(PASSPHRASE)


def test_settings_come_back_and_a_slip_in_the_file_is_named(clinic: Clinic) -> None:
    changed = DeskSettings(clinic="Beech practice", silent_days=4, timezone="Europe/Vienna")
    clinic.save_settings(changed)
    assert clinic.settings == changed
    (clinic.root / "desk.toml").write_text("silent_days = 400\n")
    with pytest.raises(StorageError, match="silent_days"):
        _ = clinic.settings


@pytest.mark.parametrize("name", template_names())
def test_every_template_becomes_an_order_that_can_be_issued(clinic: Clinic, keys: ClinicKeys, name: str) -> None:
    draft = clinic.draft_from_template(name, "HB-0077", TODAY).set("muscles.0.side", "left")
    issued = clinic.issue(draft, keys)
    assert issued.delivered
    assert issued.prescription.clinic == "Hornbeam practice"
    assert issued.prescription.note is None
    assert verify(issued.path.read_bytes()).clinic == keys.identity
    assert clinic.orders("HB-0077") == (issued.prescription,)


def test_revisions_only_go_up_also_above_what_another_desk_issued(
    clinic: Clinic, keys: ClinicKeys, exchange: Path, tmp_path: Path
) -> None:
    for wanted in (1, 2):
        assert (
            clinic.issue(
                clinic.draft_from_template(KNEE, "HB-0042", TODAY).set("muscles.0.side", "left"), keys
            ).prescription.revision
            == wanted
        )
    other = Clinic(tmp_path / "other-desk")
    other.save_settings(DeskSettings(exchange=str(exchange)))
    assert (
        other.issue(
            other.draft_from_template(KNEE, "HB-0042", TODAY).set("muscles.0.side", "left"), keys
        ).prescription.revision
        == 3
    )
    issued = clinic.issue(clinic.draft_from_last("HB-0042", TODAY), keys)
    assert issued.prescription.revision == 4
    assert sorted(path.name[8:12] for path in (exchange / "to-home" / "HB-0042").iterdir()) == [
        "0001", "0002", "0003", "0004",
    ]  # fmt: skip


def test_a_draft_with_faults_is_not_issued_and_nothing_changes(
    clinic: Clinic, keys: ClinicKeys, exchange: Path
) -> None:
    draft = clinic.draft_from_template(KNEE, "HB-0042", TODAY).set("muscles.0.side", "left").set("exercises.0.reps", 60)
    with pytest.raises(PrescriptionError, match="reps_per_day"):
        clinic.issue(draft, keys)
    with pytest.raises(PrescriptionError, match="looks like a name"):
        clinic.issue(clinic.draft_from_template(KNEE, "Anna", TODAY).set("muscles.0.side", "left"), keys)
    assert clinic.patients(TODAY) == []
    assert list(exchange.iterdir()) == []


def test_what_is_signed_waits_for_the_memory_stick(clinic: Clinic, keys: ClinicKeys, exchange: Path) -> None:
    exchange.rmdir()
    issued = clinic.issue(clinic.draft_from_template(KNEE, "HB-0042", TODAY).set("muscles.0.side", "left"), keys)
    assert not issued.delivered
    assert issued.trouble is not None
    assert "memory stick" in issued.trouble
    exchange.mkdir()
    assert clinic.deliver() == [issued.path.name]
    assert clinic.deliver() == []


def test_nothing_was_issued_so_there_is_no_last_order(clinic: Clinic) -> None:
    with pytest.raises(ClinicError, match="start from a template"):
        clinic.draft_from_last("HB-0042", TODAY)


def test_what_comes_back_shows_on_the_list_and_in_the_report(
    clinic: Clinic, keys: ClinicKeys, come_back: Callable[..., None], play: Callable[..., int]
) -> None:
    clinic.issue(clinic.draft_from_template(KNEE, "HB-0042", TODAY).set("muscles.0.side", "left"), keys)
    come_back(lambda journal: play(journal, datetime(2026, 11, 25, 17, tzinfo=UTC), pain=(1, 6)))
    collected = clinic.collect(keys, TODAY, confirm=lambda _: True)
    assert len(collected.received) == 1
    (row,) = clinic.patients(TODAY)
    assert (row.patient, row.sessions, row.last_session, row.last_handover) == ("HB-0042", 1, TODAY, TODAY)
    assert row.maxima[0].estimate_uv == pytest.approx(180.0)
    assert row.attention[0].key == "pain"
    assert row.attention[0].sentence() == "Pain 6 of 10 on 2026-11-25; the session ends at 5."
    page = clinic.write_report("HB-0042", datetime(2026, 11, 25, 20, tzinfo=UTC)).read_text()
    assert "4 repetitions were made on 1 day" in page


def test_one_patient_on_two_computers_is_counted_once(
    clinic: Clinic, keys: ClinicKeys, come_back: Callable[..., None], play: Callable[..., int]
) -> None:
    clinic.issue(clinic.draft_from_template(KNEE, "HB-0042", TODAY).set("muscles.0.side", "left"), keys)
    morning, evening = datetime(2026, 11, 24, 8, tzinfo=UTC), datetime(2026, 11, 25, 18, tzinfo=UTC)

    def on_the_laptop(journal: Journal) -> None:
        play(journal, morning)  # also there: the laptop was set up from a backup of the computer at home
        play(journal, evening)

    come_back(lambda journal: play(journal, morning))
    come_back(on_the_laptop, "laptop")
    come_back(lambda journal: play(journal, morning + timedelta(days=1)))
    collected = clinic.collect(keys, TODAY, confirm=lambda _: True)
    assert len(collected.received) == 3
    starts = [session.start.started_at for session in clinic.done("HB-0042").sessions]
    assert len(list((clinic.root / "handovers").iterdir())) == 2, "what a later one holds is tidied away"
    assert starts == [moment.isoformat() for moment in (morning, morning + timedelta(days=1), evening)]
    (row,) = clinic.patients(TODAY)
    assert row.sessions == 3


def test_a_summary_is_made_again_when_something_came_back(
    clinic: Clinic, keys: ClinicKeys, come_back: Callable[..., None], play: Callable[..., int]
) -> None:
    clinic.issue(clinic.draft_from_template(KNEE, "HB-0042", TODAY).set("muscles.0.side", "left"), keys)
    before = clinic.patients(TODAY + timedelta(days=8))
    assert [reason.key for reason in before[0].attention] == ["never"]
    come_back(lambda journal: play(journal, datetime(2026, 11, 25, 17, tzinfo=UTC)))
    clinic.collect(keys, TODAY, confirm=lambda _: True)
    assert clinic.patient("HB-0042", TODAY).attention == ()
    assert [reason.key for reason in clinic.patient("HB-0042", TODAY + timedelta(days=9)).attention] == ["silent"]
    for summary in (clinic.root / "summaries").iterdir():
        summary.write_text("{")
    assert clinic.patient("HB-0042", TODAY).sessions == 1


def test_a_journal_that_was_lost_at_home_is_not_lost_at_the_desk(
    clinic: Clinic, keys: ClinicKeys, come_back: Callable[..., None], play: Callable[..., int], tmp_path: Path
) -> None:
    clinic.issue(clinic.draft_from_template(KNEE, "HB-0042", TODAY).set("muscles.0.side", "left"), keys)
    start = datetime(2026, 11, 24, 8, tzinfo=UTC)
    come_back(lambda journal: play(journal, start))
    clinic.collect(keys, TODAY, confirm=lambda _: True)
    for path in (tmp_path / "home").glob("journal.sqlite*"):
        path.unlink()
    come_back(lambda journal: play(journal, start + timedelta(days=1)), made=datetime(2026, 11, 25, 20, tzinfo=UTC))
    clinic.collect(keys, TODAY)
    assert len(clinic.done("HB-0042").sessions) == 2
    assert clinic.patient("HB-0042", TODAY).sessions == 2


def test_one_damaged_file_hides_no_other_patient(clinic: Clinic, keys: ClinicKeys) -> None:
    for patient in ("HB-0042", "HB-0077"):
        clinic.issue(clinic.draft_from_template(KNEE, patient, TODAY).set("muscles.0.side", "left"), keys)
    damaged = clinic.root / "orders" / "HB-0077-0001.prescription.toml"
    whole = damaged.read_bytes()
    damaged.write_bytes(whole.replace(b"pain_stop = 5", b"pain_stop = 9"))
    first, second = clinic.patients(TODAY)
    assert (first.patient, first.attention[0].key, first.urgency) == ("HB-0077", "unreadable", 1)
    assert "changed after it was signed" in first.attention[0].sentence()
    assert second.revision == 1
    damaged.write_bytes(whole)
    assert [row.urgency for row in clinic.patients(TODAY)] == [9, 9]
