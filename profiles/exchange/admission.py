"""The home side's door: which prescription file is let in.

The order matters: the signature is verified first, then the text is parsed, then it is judged against what is
remembered of the clinic. Only when all of it is well does anything change, and then the prescription is replaced
before the pin: a power cut between the two leaves a newer file of the pinned clinic, which is accepted again.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal

from musclewood.assets.saying import say
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.disk.locking import locked
from musclewood.profiles.errors import (
    AnotherClinicError,
    ExpiredError,
    Fault,
    NotConfirmedError,
    OlderRevisionError,
    OtherPatientError,
    PrescriptionError,
    RevisionConflictError,
    StorageError,
    UnsignedError,
)
from musclewood.profiles.orders.prescription import Prescription, parse
from musclewood.profiles.trust.keys import ClinicIdentity
from musclewood.profiles.trust.pins import Pairing, PinFolder, Pins, remember
from musclewood.profiles.trust.signature import LARGEST_BYTES, VerifiedFile, verify
from musclewood.profiles.trust.succession import vouched_for
from musclewood.profiles.trust.words import to_words

Standing = Literal["unsigned", "known", "first", "new clinic"]


@dataclass(frozen=True)
class OpenedPrescription:
    """A prescription whose signature fits. `clinic` is None for an unsigned one."""

    prescription: Prescription
    clinic: ClinicIdentity | None
    digest: str
    body: bytes = b""

    def succeeds(self, pins: Pins | None) -> bool:
        """Whether the paired clinic's key vouches for the one that signed this."""
        return (
            pins is not None
            and self.clinic is not None
            and pins.under(self.clinic) is None
            and vouched_for(self.body, pins.current.identity, self.clinic)
        )


@dataclass(frozen=True)
class Introduction:
    """What a person is shown before a clinic is trusted. The name is only claimed; the words are what counts."""

    patient: str
    clinic: str
    words: tuple[str, ...]
    replaces: str | None
    fingerprint: bytes


@dataclass(frozen=True)
class Unsigned:
    """What a person is shown before an order that nobody signed is let in: whether it is whole, nobody can know."""

    patient: str
    clinic: str
    revision: int
    exercises: tuple[str, ...]


@dataclass(frozen=True)
class Admission:
    """What was let in. `changed` is False when this very file was already in force."""

    prescription: Prescription
    standing: Standing
    changed: bool


Confirm = Callable[[Introduction], bool]
ConfirmUnsigned = Callable[[Unsigned], bool]


def nobody(_: Introduction | Unsigned) -> bool:
    """Confirmation where there is nobody to ask: no clinic is ever trusted, and nothing unsigned is let in."""
    return False


def open_prescription(content: bytes, *, unsigned_allowed: bool = False) -> OpenedPrescription:
    """Verify, then parse. Raises DamagedFileError, UnsignedError, PrescriptionError."""
    return parse_verified(verify(content), unsigned_allowed=unsigned_allowed)


def parse_verified(verified: VerifiedFile, *, unsigned_allowed: bool = False) -> OpenedPrescription:
    """The second half: what a file says whose signature was checked. Raises UnsignedError, PrescriptionError."""
    if verified.clinic is None and not unsigned_allowed:
        raise UnsignedError(say("wrong.prescription-not-signed"), say("mend.use-file-clinic-issued"))
    try:
        text = verified.body.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise PrescriptionError(
            [Fault("(file)", say("wrong.text-not-utf"), say("mend.choose-prescription-file"))]
        ) from None
    return OpenedPrescription(parse(text), verified.clinic, verified.digest, verified.body)


def judge(opened: OpenedPrescription, pins: Pins | None, today: date) -> Standing:
    """How a file stands to what is remembered of its patient, on the patient's date. Pure.

    Raises ExpiredError, OlderRevisionError, RevisionConflictError.
    """
    refuse_expired(opened.prescription, today)
    if opened.clinic is None:
        return "unsigned"
    if pins is None:
        return "first"
    if known := pins.current if opened.succeeds(pins) else pins.under(opened.clinic):
        _refuse_older(opened, known)
    return "known" if pins.current.identity == opened.clinic else "new clinic"


def refuse_expired(prescription: Prescription, today: date) -> None:
    """The last day still counts. Raises ExpiredError."""
    if prescription.expires and today > prescription.expires:
        raise ExpiredError(
            say("wrong.prescription-ended", expires=prescription.expires), say("mend.ask-clinic-new-one")
        )


def import_prescription(
    content: bytes,
    destination: Path,
    pin_folder: PinFolder,
    *,
    today: date,
    confirm: Confirm = nobody,
    confirm_unsigned: ConfirmUnsigned = nobody,
    meant: bool = False,
    new_clinic: bool = False,
    patient: str | None = None,
    opened: OpenedPrescription | None = None,
) -> Admission:
    """Let a prescription file in: put it, signature and all, at `destination`, and remember its clinic and revision.

    Args:
        content: the file's exact bytes.
        confirm: asked before a clinic is trusted for the first time, and again for a new one.
        confirm_unsigned: asked before an order that nobody signed comes into force, where no clinic is paired.
        meant: somebody said yes to this very file before, so that need not be asked again.
        new_clinic: the person asked to be paired with another clinic, or with a clinic that lost its key.
        patient: refuse a prescription of anybody else.
        opened: what `open_prescription` gave for this content, where it was opened before.
    Raises TrustError or PrescriptionError; nothing has changed then.
    """
    if opened is None:
        opened = open_prescription(content, unsigned_allowed=not pin_folder.ever_paired())
    prescription = opened.prescription
    _refuse_other_patient(prescription, patient)
    pins = pin_folder.load(prescription.patient)
    standing = judge(opened, pins, today)
    if standing == "new clinic" and not new_clinic and not opened.succeeds(pins):
        raise not_the_paired_clinic(prescription.patient)
    if opened.clinic and standing in ("first", "new clinic"):
        _ask(opened.clinic, prescription, pins, confirm)
    if opened.clinic is None and not meant:
        _ask_unsigned(prescription, confirm_unsigned)
    with locked(pin_folder.path(prescription.patient)):
        if pin_folder.load(prescription.patient) != pins:  # the question took its time
            raise StorageError(say("wrong.another-program-just-imported"), say("mend.try-again"))
        return _put(content, opened, standing, destination, pin_folder, pins, today)


def not_the_paired_clinic(patient: str) -> AnotherClinicError:
    return AnotherClinicError(
        say("wrong.prescription-not-signed-clinic", patient=patient),
        say("mend.ask-clinic-only-new"),
    )


def _put(
    content: bytes,
    opened: OpenedPrescription,
    standing: Standing,
    destination: Path,
    pin_folder: PinFolder,
    pins: Pins | None,
    today: date,
) -> Admission:
    held = _holds(destination, content)
    remembered = opened.clinic is None or (
        standing == "known" and pins is not None and pins.current.digest == opened.digest
    )
    if not held:
        write_whole(destination, content)
    if opened.clinic and not remembered:
        pin_folder.save(remember(pins, opened.prescription.patient, _pairing(opened, opened.clinic, today)))
    return Admission(opened.prescription, standing, changed=not (held and remembered))


def load_prescription(path: Path, pin_folder: PinFolder, *, today: date, patient: str | None = None) -> Prescription:
    """The prescription that was let in earlier, verified and judged again. Nothing changes.

    Raises TrustError or PrescriptionError; a clinic that is not paired is an AnotherClinicError.
    """
    content = read_bounded(path, LARGEST_BYTES)
    opened = open_prescription(content, unsigned_allowed=not pin_folder.ever_paired())
    _refuse_other_patient(opened.prescription, patient)
    pins = pin_folder.load(opened.prescription.patient)
    if judge(opened, pins, today) in ("first", "new clinic"):
        raise AnotherClinicError(say("wrong.prescription-clinic-not-paired"), say("mend.import-file-first"))
    return opened.prescription


def _holds(path: Path, content: bytes) -> bool:
    try:
        return read_bounded(path, LARGEST_BYTES) == content
    except StorageError:
        return False


def _refuse_other_patient(prescription: Prescription, patient: str | None) -> None:
    if patient is not None and prescription.patient != patient:
        raise OtherPatientError(
            say("wrong.prescription-not", patient=prescription.patient, patient2=patient), say("mend.choose-right-file")
        )


def _refuse_older(opened: OpenedPrescription, known: Pairing) -> None:
    revision = opened.prescription.revision
    if revision < known.revision:
        problem = say("wrong.revision-already-force", revision=revision, revision2=known.revision)
        raise OlderRevisionError(problem, say("mend.use-newest-file-ask"))
    if revision == known.revision and opened.digest != known.digest:
        problem = say("wrong.two-different-files-revision", revision=revision)
        raise RevisionConflictError(problem, say("mend.ask-clinic-issue-right"))


def _ask(clinic: ClinicIdentity, prescription: Prescription, pins: Pins | None, confirm: Confirm) -> None:
    replaces = pins.current.clinic if pins else None
    words = to_words(clinic.fingerprint)
    if not confirm(Introduction(prescription.patient, prescription.clinic, words, replaces, clinic.fingerprint)):
        raise NotConfirmedError(say("wrong.clinic-words-not-confirmed"), say("mend.call-clinic-compare-them"))


def _ask_unsigned(prescription: Prescription, confirm: ConfirmUnsigned) -> None:
    titles = tuple(exercise.title for exercise in prescription.exercises)
    if not confirm(Unsigned(prescription.patient, prescription.clinic, prescription.revision, titles)):
        raise UnsignedError(
            say("wrong.prescription-not-signed-nobody"),
            say("mend.ask-clinic-signed-file"),
        )


def _pairing(opened: OpenedPrescription, clinic: ClinicIdentity, today: date) -> Pairing:
    return Pairing(
        key=clinic.joined.hex(),
        clinic=opened.prescription.clinic,
        paired_on=today,
        revision=opened.prescription.revision,
        digest=opened.digest,
    )
