"""Which prescriptions the home side lets in."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.errors import (
    AnotherClinicError,
    DamagedFileError,
    ExpiredError,
    IncompleteFileError,
    NotConfirmedError,
    OlderRevisionError,
    OtherPatientError,
    PinError,
    PrescriptionError,
    RevisionConflictError,
    StorageError,
    TrustError,
    UnsignedError,
)
from musclewood.profiles.exchange import admission
from musclewood.profiles.exchange.admission import Introduction, Unsigned, load_prescription
from musclewood.profiles.orders.prescription import parse
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.signature import sign
from musclewood.profiles.trust.words import to_words

Order = Callable[..., bytes]
Look = Callable[[Path], dict[str, tuple[bytes, int]]]


def test_the_first_import_shows_the_words_and_pins_the_clinic(
    computer: Any, signed: Order, hornbeam: ClinicKeys
) -> None:
    shown: list[Introduction] = []

    def confirm(introduction: Introduction) -> bool:
        shown.append(introduction)
        return True

    admitted = computer.bring(signed(), confirm=confirm)
    assert admitted.standing == "first" and admitted.changed
    assert shown[0].words == to_words(hornbeam.identity.fingerprint)
    assert (shown[0].patient, shown[0].replaces) == ("HB-0042", None)
    assert computer.prescription.read_bytes() == signed()
    assert computer.pins.load("HB-0042").current.identity == hornbeam.identity
    computer.bring(signed(revision=2), confirm=confirm)
    assert len(shown) == 1


def test_words_that_are_not_confirmed_pair_nothing(computer: Any, signed: Order) -> None:
    for confirm in (admission.nobody, lambda _: False):
        with pytest.raises(NotConfirmedError, match=r"were not confirmed.*call the clinic"):
            computer.bring(signed(), confirm=confirm)
    assert not computer.root.exists()


def test_a_newer_revision_replaces_and_the_same_file_changes_nothing(paired: Any, signed: Order, look: Look) -> None:
    assert paired.bring(signed(revision=2), confirm=admission.nobody).changed
    assert paired.pins.load("HB-0042").current.revision == 2
    before = look(paired.root)
    assert not paired.bring(signed(revision=2), confirm=admission.nobody).changed
    assert look(paired.root) == before


REFUSALS: list[tuple[str, type[Exception]]] = [
    ("older", OlderRevisionError),
    ("same revision", RevisionConflictError),
    ("expired", ExpiredError),
    ("unsigned", UnsignedError),
    ("unsigned, another patient", UnsignedError),
    ("stranger", AnotherClinicError),
    ("changed", DamagedFileError),
    ("half", DamagedFileError),
    ("half, without signature", UnsignedError),
    ("another patient", OtherPatientError),
    ("faulty", PrescriptionError),
    ("not text", PrescriptionError),
    ("empty", UnsignedError),
]


@pytest.mark.parametrize(("case", "error"), REFUSALS)
def test_a_refusal_is_one_clear_line_and_changes_nothing(
    paired: Any,
    order: Order,
    signed: Order,
    hornbeam: ClinicKeys,
    stranger: ClinicKeys,
    look: Look,
    case: str,
    error: type,
) -> None:
    paired.bring(signed(revision=3))
    whole = signed(revision=4)
    faulty = order(revision=4).replace(b"pain_stop = 5", b"pain_stop = 50")
    content = {
        "older": signed(revision=2),
        "same revision": signed(revision=3, note="Changed without a new revision."),
        "expired": signed(revision=4, expires=date(2026, 11, 24), issued=date(2026, 11, 1)),
        "unsigned": order(revision=4),
        "unsigned, another patient": order(revision=4, patient="HB-0043"),
        "stranger": signed(by=stranger, revision=4),
        "changed": whole.replace(b"reps = 10", b"reps = 90"),
        "half": whole[:-20],
        "half, without signature": order(revision=4)[: order(revision=4).index(b"\n[stop]")],
        "another patient": signed(revision=4, patient="HB-0043"),
        "faulty": sign(faulty, hornbeam),
        "not text": sign(b"\xff\xfe\n", hornbeam),
        "empty": b"",
    }[case]
    before = look(paired.root)
    with pytest.raises(error) as raised:
        paired.bring(content, patient="HB-0042" if case == "another patient" else None)
    assert look(paired.root) == before
    assert str(raised.value).strip() and "Traceback" not in str(raised.value)
    if isinstance(raised.value, TrustError):
        assert "\n" not in str(raised.value) and raised.value.remedy


def test_nothing_is_parsed_before_it_is_verified(
    paired: Any, order: Order, signed: Order, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(_: str) -> None:
        raise AssertionError("parsed")

    monkeypatch.setattr(admission, "parse", never)
    with pytest.raises(DamagedFileError):
        paired.bring(signed(revision=2).replace(b"reps = 10", b"reps = 90"))
    with pytest.raises(UnsignedError):
        paired.bring(order(revision=2))


def test_a_prescription_holds_through_its_last_day(paired: Any, signed: Order, today: date) -> None:
    content = signed(revision=2, expires=date(2026, 12, 1))
    paired.bring(content, today=date(2026, 12, 1))
    load_prescription(paired.prescription, paired.pins, today=date(2026, 12, 1))
    with pytest.raises(ExpiredError, match="2026-12-01"):
        load_prescription(paired.prescription, paired.pins, today=date(2026, 12, 2))
    with pytest.raises(ExpiredError):
        paired.bring(content, today=date(2026, 12, 2))


def test_unsigned_files_work_until_somebody_was_paired(computer: Any, order: Order, signed: Order) -> None:
    yes: dict[str, Any] = {"confirm": admission.nobody, "confirm_unsigned": lambda _: True}
    assert computer.bring(order(revision=5), **yes).standing == "unsigned"
    assert computer.bring(order(revision=2), **yes).standing == "unsigned"
    assert not computer.bring(order(revision=2), confirm=admission.nobody, meant=True).changed
    computer.bring(signed())
    with pytest.raises(UnsignedError):
        computer.bring(order(revision=9))


def test_nothing_unsigned_comes_into_force_without_a_yes_that_saw_what_it_orders(computer: Any, order: Order) -> None:
    cut = order()[: order().rindex(b"[[exercises]]")]  # a copy that stopped: still a readable order
    shown: list[Unsigned] = []
    for say in (admission.nobody, lambda seen: shown.append(seen) is not None):
        with pytest.raises(UnsignedError, match="whole"):
            computer.bring(cut, confirm_unsigned=say)
    assert not computer.root.exists()
    assert shown[0].patient == "HB-0042" and len(shown[0].exercises) == len(parse(cut.decode()).exercises)


def test_half_of_a_signed_order_is_never_let_in(computer: Any, signed: Order) -> None:
    whole = signed()
    for end in (whole.rindex(b"[[exercises]]"), whole.index(b"# musclewood-signature/1")):
        with pytest.raises(IncompleteFileError, match="only a part"):
            computer.bring(whole[:end], confirm_unsigned=lambda _: True)


def test_a_new_clinic_is_paired_only_on_request(
    paired: Any, signed: Order, hornbeam: ClinicKeys, stranger: ClinicKeys
) -> None:
    theirs = signed(by=stranger, revision=1, clinic="Another clinic")
    with pytest.raises(AnotherClinicError):
        paired.bring(theirs)
    with pytest.raises(NotConfirmedError):
        paired.bring(theirs, new_clinic=True, confirm=lambda _: False)
    shown: list[Introduction] = []
    admitted = paired.bring(theirs, new_clinic=True, confirm=lambda i: shown.append(i) is None)
    assert admitted.standing == "new clinic"
    assert shown[0].replaces == "Hornbeam demonstration clinic"
    assert paired.pins.load("HB-0042").current.identity == stranger.identity
    with pytest.raises(AnotherClinicError):
        paired.bring(signed(revision=8))


def test_a_clinic_that_lost_its_key_starts_over_with_a_new_one(paired: Any, signed: Order) -> None:
    paired.bring(signed(revision=7))
    new_key = ClinicKeys.new()
    admitted = paired.bring(signed(by=new_key, revision=1), new_clinic=True)
    assert admitted.prescription.revision == 1
    assert paired.bring(signed(by=new_key, revision=2), confirm=admission.nobody).changed


def test_going_back_to_a_clinic_does_not_let_its_old_revisions_in(
    paired: Any, signed: Order, stranger: ClinicKeys
) -> None:
    paired.bring(signed(revision=7))
    paired.bring(signed(by=stranger, revision=1), new_clinic=True)
    with pytest.raises(OlderRevisionError):
        paired.bring(signed(revision=6), new_clinic=True)
    paired.bring(signed(revision=7), new_clinic=True)
    first = paired.pins.load("HB-0042").current
    assert (first.revision, first.paired_on) == (7, date(2026, 11, 25))
    assert len(paired.pins.load("HB-0042").pairings) == 2


def test_two_patients_on_one_computer_have_separate_pins(
    computer: Any, signed: Order, hornbeam: ClinicKeys, stranger: ClinicKeys
) -> None:
    computer.bring(signed(revision=5))
    asked: list[str] = []
    computer.bring(signed(by=stranger, patient="HB-0043"), confirm=lambda i: asked.append(i.patient) is None)
    assert asked == ["HB-0043"]
    assert computer.pins.load("HB-0042").current.identity == hornbeam.identity
    assert computer.pins.load("HB-0043").current.identity == stranger.identity
    with pytest.raises(AnotherClinicError):
        computer.bring(signed(patient="HB-0043", revision=9))
    assert computer.bring(signed(by=stranger, patient="HB-0043", revision=2)).standing == "known"


def test_one_patient_on_two_computers(computer: Any, other_computer: Any, signed: Order) -> None:
    for machine in (computer, other_computer):
        assert machine.bring(signed()).standing == "first"
    computer.bring(signed(revision=3))
    assert other_computer.bring(signed(revision=2)).changed
    assert other_computer.bring(signed(revision=3)).changed


def test_a_damaged_pin_is_never_taken_for_none(paired: Any, order: Order, signed: Order, look: Look) -> None:
    path = paired.pins.path("HB-0042")
    other = path.read_text().replace("HB-0042", "HB-0043")
    for content in ("", "{}", other, path.read_text()[:-30]):
        path.write_text(content)
        before = look(paired.root)
        for file in (signed(revision=2), order(patient="HB-0044")):
            with pytest.raises((PinError, UnsignedError)):
                paired.bring(file, new_clinic=True)
        assert look(paired.root) == before


def test_a_patients_code_never_leads_out_of_the_folder(computer: Any) -> None:
    for code in ("../../HB-0042", "HB-0042/..", "", "HB-0042\n"):
        with pytest.raises(ValueError):
            computer.pins.path(code)


def test_what_was_let_in_is_verified_again_when_it_is_used(
    paired: Any, signed: Order, stranger: ClinicKeys, today: date
) -> None:
    assert load_prescription(paired.prescription, paired.pins, today=today).revision == 1
    paired.prescription.write_bytes(signed().replace(b"reps = 10", b"reps = 90"))
    with pytest.raises(DamagedFileError):
        load_prescription(paired.prescription, paired.pins, today=today)
    paired.prescription.write_bytes(signed(by=stranger))
    with pytest.raises(AnotherClinicError):
        load_prescription(paired.prescription, paired.pins, today=today)
    with pytest.raises(OtherPatientError):
        paired.prescription.write_bytes(signed())
        load_prescription(paired.prescription, paired.pins, today=today, patient="HB-0043")


def test_a_power_cut_between_file_and_pin_is_mended_by_the_next_look(
    paired: Any, signed: Order, monkeypatch: pytest.MonkeyPatch, today: date
) -> None:
    content = signed(revision=2)
    with monkeypatch.context() as cut, pytest.raises(KeyboardInterrupt):
        cut.setattr(admission, "remember", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt))
        paired.bring(content)
    assert load_prescription(paired.prescription, paired.pins, today=today).revision == 2
    assert paired.bring(content).changed
    assert paired.pins.load("HB-0042").current.revision == 2
    with pytest.raises(OlderRevisionError):
        paired.bring(signed())


def test_a_folder_that_cannot_be_written_is_said(computer: Any, signed: Order) -> None:
    computer.root.write_bytes(b"a file where the folder should be")
    with pytest.raises(StorageError):
        computer.bring(signed())


def test_the_pairing_day_is_the_patients_day(computer: Any, signed: Order, today: date) -> None:
    computer.bring(signed(), today=today + timedelta(days=3))
    assert computer.pins.load("HB-0042").current.paired_on == date(2026, 11, 28)
