"""Hand-overs from a home to the clinic, sealed, carried and received."""

from __future__ import annotations

import itertools
import json
import os
import stat
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.errors import (
    AlreadyReceivedError,
    AnotherKeyError,
    ArchiveError,
    DamagedFileError,
    IncompleteFileError,
    LedgerError,
    NotPairedError,
    OtherPatientError,
    ReplayedError,
    SenderError,
    TrustError,
    UnknownHomeError,
)
from musclewood.profiles.exchange import reception
from musclewood.profiles.exchange.received import ReceivedLedger, load_ledger
from musclewood.profiles.exchange.reception import NewSender, receive_into
from musclewood.profiles.handover.package import write_handover
from musclewood.profiles.handover.reading import read_handover
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.templates import template
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.sealing import looks_complete, seal, unseal
from musclewood.profiles.trust.senders import sealer, sender_words
from nacl.signing import SigningKey

MADE = datetime.fromisoformat("2026-11-25T19:30:00+01:00")
Bytes = Callable[..., bytes]
Look = Callable[[Path], dict[str, tuple[bytes, int]]]


def yes(_: NewSender) -> bool:
    return True


@pytest.fixture
def desk(tmp_path: Path, hornbeam: ClinicKeys, today: date) -> Callable[..., Any]:
    """Receives at the clinic, in the folder `clinic`."""
    folder = tmp_path / "clinic"
    folder.mkdir()

    def take(content: bytes, keys: ClinicKeys = hornbeam, **changes: Any) -> Any:
        values: dict[str, Any] = {"today": today, "confirm": yes} | changes
        return receive_into(folder / "received", folder / "ledger.json", content, keys, **values)

    return take


def test_the_clinic_gets_exactly_what_the_home_sealed(paired: Any, package: Bytes, desk: Any) -> None:
    received, path = desk(paired.hand_over(package()))
    assert path.read_bytes() == package() == received.payload
    assert set(received.files) == {"datapackage.json", "repetitions.csv"}
    assert (received.header.patient, received.header.sequence, received.newest) == ("HB-0042", 1, True)


def test_a_journals_hand_over_goes_the_whole_way(paired: Any, desk: Any, tmp_path: Path) -> None:
    prescription = template("weak-thigh-after-knee-operation").model_copy(update={"patient": "HB-0042"})
    seal_it = sealer("HB-0042", paired.pins, paired.senders, made=MADE)
    with Journal.open(tmp_path / "HB-0042.sqlite") as journal:
        sealed = write_handover(journal, prescription, paired.outbox, "<p>report</p>", seal=seal_it, now=MADE)
    assert sealed.suffix == ".sealed" and b"report" not in sealed.read_bytes()
    received, path = desk(sealed.read_bytes())
    assert read_handover(path.read_bytes()).prescription.patient == "HB-0042"
    assert received.files["report.html"] == b"<p>report</p>"


def test_numbers_count_up_and_survive(paired: Any, package: Bytes, desk: Any) -> None:
    numbers = [desk(paired.hand_over(package()))[0].header.sequence for _ in range(3)]
    assert numbers == [1, 2, 3]


def test_a_home_that_is_not_paired_seals_nothing(computer: Any, package: Bytes) -> None:
    with pytest.raises(NotPairedError):
        computer.hand_over(package())
    assert not computer.root.exists()


def test_another_clinics_key_opens_nothing(paired: Any, package: Bytes, desk: Any, stranger: ClinicKeys) -> None:
    with pytest.raises(AnotherKeyError, match="another clinic's key"):
        desk(paired.hand_over(package()), keys=stranger)


@pytest.mark.parametrize(
    ("case", "error"),
    [
        ("another key", AnotherKeyError),
        ("damaged", DamagedFileError),
        ("longer", DamagedFileError),
        ("half", IncompleteFileError),
        ("empty", IncompleteFileError),
        ("begun", IncompleteFileError),
        ("foreign", DamagedFileError),
        ("sent twice", AlreadyReceivedError),
        ("sent twice, sealed anew", AlreadyReceivedError),
        ("number used twice", ReplayedError),
        ("another patient", OtherPatientError),
        ("another patient inside", OtherPatientError),
        ("nobody inside", ArchiveError),
        ("unknown computer", UnknownHomeError),
    ],
)
def test_a_refusal_at_the_clinic_is_one_clear_line_and_changes_nothing(
    paired: Any,
    package: Bytes,
    desk: Any,
    tmp_path: Path,
    look: Look,
    hornbeam: ClinicKeys,
    case: str,
    error: type[TrustError],
) -> None:
    first = paired.hand_over(package())
    desk(first)
    whole = paired.hand_over(package(rows=41))
    key = paired.senders.load("HB-0042").key
    common: dict[str, Any] = {"sender": key, "clinic": hornbeam.identity, "made": MADE}
    content = {
        "another key": whole,
        "damaged": whole[:-1] + bytes([whole[-1] ^ 1]),
        "longer": whole + b"\n",
        "half": whole[: len(whole) // 2],
        "empty": b"",
        "begun": whole[:20],
        "foreign": b"PK\x03\x04" + bytes(500),
        "sent twice": first,
        "sent twice, sealed anew": seal(package(), patient="HB-0042", sequence=1, **common),
        "number used twice": seal(package(rows=3), patient="HB-0042", sequence=1, **common),
        "another patient": whole,
        "another patient inside": seal(package("HB-0043"), patient="HB-0042", sequence=9, **common),
        "nobody inside": seal(b"", patient="HB-0042", sequence=9, **common),
        "unknown computer": seal(
            package(), patient="HB-0042", sequence=9, **common | {"sender": SigningKey.generate()}
        ),
    }[case]
    changes: dict[str, Any] = {"confirm": reception.no_new_sender}
    if case == "another key":
        changes["keys"] = ClinicKeys.new()
    if case == "another patient":
        changes["patient"] = "HB-0043"
    before = look(tmp_path)
    with pytest.raises(error) as raised:
        desk(content, **changes)
    assert look(tmp_path) == before
    assert "\n" not in str(raised.value) and raised.value.problem and raised.value.remedy


def test_the_therapist_is_asked_once_for_every_computer(
    paired: Any, other_computer: Any, signed: Bytes, package: Bytes, desk: Any
) -> None:
    asked: list[NewSender] = []

    def confirm(new: NewSender) -> bool:
        asked.append(new)
        return True

    other_computer.bring(signed())
    for machine in (paired, other_computer, paired, other_computer):
        desk(machine.hand_over(package()), confirm=confirm)
    assert [new.further for new in asked] == [False, True]
    assert [new.words for new in asked] == [
        sender_words(m.senders.load("HB-0042").public) for m in (paired, other_computer)
    ]


def test_a_sender_of_one_patient_is_not_accepted_for_another(
    paired: Any, package: Bytes, desk: Any, hornbeam: ClinicKeys
) -> None:
    desk(paired.hand_over(package()))
    key = paired.senders.load("HB-0042").key
    moved = seal(package("HB-0043"), patient="HB-0043", sequence=2, sender=key, clinic=hornbeam.identity, made=MADE)
    with pytest.raises(UnknownHomeError):
        desk(moved, confirm=reception.no_new_sender)


def test_an_earlier_hand_over_that_comes_late_is_kept_but_not_the_newest(
    paired: Any, package: Bytes, desk: Any
) -> None:
    early, late = paired.hand_over(package(rows=1)), paired.hand_over(package(rows=2))
    assert desk(late)[0].newest
    assert not desk(early)[0].newest


def test_two_patients_on_one_computer_have_separate_senders(
    paired: Any, signed: Bytes, package: Bytes, desk: Any
) -> None:
    paired.bring(signed(patient="HB-0043"))
    one, _ = desk(paired.hand_over(package()))
    other, _ = desk(paired.hand_over(package("HB-0043"), "HB-0043"))
    assert one.header.sender != other.header.sender
    assert one.header.sequence == other.header.sequence == 1


def test_a_computer_set_back_to_a_backup_goes_on_as_a_new_sender(paired: Any, package: Bytes, desk: Any) -> None:
    path = paired.root / "trust" / "HB-0042.sender.json"
    paired.hand_over(package())
    backup = path.read_bytes()
    desk(paired.hand_over(package(rows=5)))
    path.write_bytes(backup)
    with pytest.raises(ReplayedError, match="already used"):
        desk(paired.hand_over(package(rows=6)))
    paired.senders.renew("HB-0042")
    assert desk(paired.hand_over(package(rows=6)))[0].newest


def test_a_damaged_sender_is_never_quietly_replaced(paired: Any, package: Bytes) -> None:
    paired.hand_over(package())
    path = paired.root / "trust" / "HB-0042.sender.json"
    for content in ("", "{}", path.read_text().replace("HB-0042", "HB-0043")):
        path.write_text(content)
        with pytest.raises(SenderError):
            paired.hand_over(package())
        assert path.read_text() == content


@pytest.mark.skipif(os.name == "nt", reason="file modes are a matter of POSIX systems")
def test_the_senders_key_is_readable_by_its_user_alone(paired: Any, package: Bytes) -> None:
    paired.hand_over(package())
    path = paired.root / "trust" / "HB-0042.sender.json"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert json.loads(path.read_text())["seed"] not in repr(paired.senders.load("HB-0042"))


def test_a_damaged_ledger_is_never_taken_for_an_empty_one(
    paired: Any, package: Bytes, desk: Any, tmp_path: Path
) -> None:
    desk(paired.hand_over(package()))
    path = tmp_path / "clinic" / "ledger.json"
    path.write_text(path.read_text()[:-20])
    with pytest.raises(LedgerError):
        load_ledger(path)
    with pytest.raises(LedgerError):
        desk(paired.hand_over(package()))


def test_a_power_cut_before_the_ledger_is_mended_by_the_next_try(
    paired: Any, package: Bytes, desk: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    content = paired.hand_over(package())
    with monkeypatch.context() as cut, pytest.raises(KeyboardInterrupt):
        cut.setattr(reception, "save_ledger", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        desk(content)
    _, path = desk(content)
    assert [p.name for p in (tmp_path / "clinic" / "received").iterdir()] == [path.name]


def test_nobody_can_pass_a_hand_over_on_under_another_seal(
    paired: Any, package: Bytes, hornbeam: ClinicKeys, stranger: ClinicKeys
) -> None:
    sealed = paired.hand_over(package())
    label_end = sealed.index(b"\n") + 1
    plain = hornbeam.unseal(sealed[label_end:])
    assert plain is not None
    again = stranger.identity.seal(plain)
    label = f"musclewood-sealed-handover/1 to {stranger.identity.fingerprint.hex()} with {len(again)} bytes\n"
    with pytest.raises(DamagedFileError):
        unseal(label.encode() + again, stranger)


def test_a_header_that_its_sender_did_not_sign_is_refused(paired: Any, package: Bytes, hornbeam: ClinicKeys) -> None:
    sealed = paired.hand_over(package())
    plain = hornbeam.unseal(sealed[sealed.index(b"\n") + 1 :])
    assert plain is not None
    for old, new in ((b'"sequence":1', b'"sequence":2'), (b"HB-0042", b"HB-0043"), (b"2026", b"2027")):
        again = hornbeam.identity.seal(plain.replace(old, new, 1))
        label = f"musclewood-sealed-handover/1 to {hornbeam.identity.fingerprint.hex()} with {len(again)} bytes\n"
        with pytest.raises(DamagedFileError):
            unseal(label.encode() + again, hornbeam)


def test_every_truncation_shows(paired: Any, package: Bytes, hornbeam: ClinicKeys) -> None:
    content = paired.hand_over(package())
    assert looks_complete(content)
    for length in itertools.chain(range(120), range(120, len(content), 11)):
        assert not looks_complete(content[:length])
        with pytest.raises(IncompleteFileError):
            unseal(content[:length], hornbeam)


def test_a_receipt_is_known_by_patient_and_sender(paired: Any, package: Bytes, desk: Any, today: date) -> None:
    received, _ = desk(paired.hand_over(package()))
    after = ReceivedLedger().with_receipt(received.header, "0" * 16, today)
    assert after.knows("HB-0042", received.header.sender)
    assert not after.knows("HB-0043", received.header.sender)
    assert not ReceivedLedger().knows("HB-0042", received.header.sender)


def test_what_cannot_be_sealed_is_said(hornbeam: ClinicKeys) -> None:
    key = SigningKey.generate()
    with pytest.raises(ValueError):
        seal(b"", patient="Anna", sequence=1, sender=key, clinic=hornbeam.identity, made=MADE)
    with pytest.raises(ValueError):
        seal(b"", patient="HB-0042", sequence=1, sender=key, clinic=hornbeam.identity, made=MADE.replace(tzinfo=None))
