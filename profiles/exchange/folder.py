"""The folder between clinic and home, carried by any sync tool or memory stick.

    to-home/HB-0042/HB-0042-0003.prescription.toml   signed, written by the clinic
    to-clinic/...-5e6f7a8b9c0d1e2f.sealed            sealed, written by the home

Each side writes only into its own folder and only reads the other's, so there is never a file that both change. Files
are put down whole, under names that say what is in them, and putting the same file down twice changes nothing: a run
that was cut off is simply run again. Nothing is ever deleted, and no other file is opened. A file counts once its last
byte has arrived, which it shows itself (a signature block, a length under a seal); names that sync tools make up for
copies in conflict do no harm, since only what is inside counts.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.profiles.disk.files import make_folder
from musclewood.profiles.errors import (
    AlreadyReceivedError,
    LedgerError,
    NotConfirmedError,
    OlderRevisionError,
    PinError,
    PrescriptionError,
    RevisionConflictError,
    StorageError,
    TrustError,
)
from musclewood.profiles.exchange.admission import (
    Admission,
    Confirm,
    OpenedPrescription,
    import_prescription,
    nobody,
    not_the_paired_clinic,
    open_prescription,
    parse_verified,
)
from musclewood.profiles.exchange.places import LocalPlace, Place
from musclewood.profiles.exchange.received import load_ledger
from musclewood.profiles.exchange.reception import ConfirmSender, Look, Reception, no_look, no_new_sender, receive_into
from musclewood.profiles.trust import sealing, signature
from musclewood.profiles.trust.keys import ClinicIdentity, ClinicKeys
from musclewood.profiles.trust.pins import PinFolder, Pins, safe_code
from musclewood.profiles.trust.succession import vouched_for

TO_HOME, TO_CLINIC = "to-home", "to-clinic"
SEALED_SUFFIX = ".sealed"
SIGNED_SUFFIX = ".prescription.toml"
# Files that are opened although nobody vouches for them yet. Our choice: more than any two desks and sync tools make.
MOST_LOOKED_AT = 40


@dataclass(frozen=True)
class Refusal:
    """A file in the exchange that was not let in, and why."""

    name: str
    reason: TrustError | PrescriptionError


@dataclass(frozen=True)
class Fetched:
    """What a look into the exchange gave the home side; `admission` is None when there was nothing to let in."""

    admission: Admission | None
    refused: tuple[Refusal, ...]


@dataclass(frozen=True)
class Collected:
    """What a look into the exchange gave the clinic: new hand-overs with their zips, and what was refused."""

    received: tuple[tuple[Reception, Path], ...]
    refused: tuple[Refusal, ...]


def begin_exchange(root: Path) -> LocalPlace:
    """An exchange folder on this computer or on a stick, made where there is none. Raises StorageError."""
    try:
        for folder in (TO_HOME, TO_CLINIC):
            make_folder(root / folder, mode=0o755)  # whoever uses the patient's computer may be another user
    except OSError as error:
        problem = say("wrong.exchange-folder-cannot-read", reason=error.strerror)
        raise StorageError(problem, say("mend.check")) from None
    return LocalPlace(root)


def issue(place: Place, content: bytes, *, own: Collection[ClinicIdentity] = (), quiet_if_there: bool = False) -> str:
    """Put a signed prescription down for its patient; gives its name. Putting it down again changes nothing, and gives
    '' with `quiet_if_there`.

    A file in its way counts only if this clinic signed it: with the same key, or with another of its keys (`own`). What
    somebody else put there stays, and this one gets a name beside it. Raises RevisionConflictError when another file of
    this clinic with the same revision lies there, UnsignedError, DamagedFileError, PrescriptionError, StorageError.
    """
    opened = open_prescription(content)
    prescription = opened.prescription
    folder, there = _to_home(prescription.patient), place.sizes(_to_home(prescription.patient))
    plain = f"{prescription.patient}-{prescription.revision:04d}"
    names = [f"{plain}{SIGNED_SUFFIX}", f"{plain}-{opened.digest[:12]}{SIGNED_SUFFIX}"]
    taken = {name: _content(place, folder, name) for name in names if name in there}
    for name, other in taken.items():
        if other == content:
            return "" if quiet_if_there else name
        if _signer(other) in {opened.clinic, *own}:
            problem = say(
                "wrong.another-file-revision-already", revision=prescription.revision, patient=prescription.patient
            )
            raise RevisionConflictError(problem, say("mend.raise-revision-sign-again"))
    unfinished = [name for name in names if name not in taken or not signature.looks_complete(taken[name])]
    for name in unfinished or names[1:]:
        try:
            place.write(folder, name, content)
        except StorageError:
            if name == names[1]:
                raise
            continue  # a folder of that name, perhaps; nobody can foresee the other one
        return name
    raise StorageError(say("wrong.cannot-clear", names=names[1]), say("mend.clear-exchange-folder-what"))


def highest_issued(place: Place, patient: str, own: Collection[ClinicIdentity]) -> int:
    """The highest revision that lies there for a patient and that one of the clinic's `own` keys signed; else 0.

    Names are only where to look first: whoever can write there can invent them. Raises StorageError.
    """
    folder = _to_home(patient)
    numbered = [
        (int(match[1]), name)
        for name, _ in _ours(place.sizes(folder), SIGNED_SUFFIX)
        if (match := re.match(rf"{patient}-([0-9]{{4}})[^0-9]", name))
    ]
    for revision, name in sorted(numbered, reverse=True)[:MOST_LOOKED_AT]:
        content = _content(place, folder, name)
        if _signer(content) in own and _revision(content) == revision:
            return revision
    return 0


def issued_elsewhere(place: Place, patient: str, own: Collection[ClinicIdentity], above: int) -> list[bytes]:
    """What another desk of this clinic issued to a patient, in revisions above one, the oldest first. Raises
    StorageError."""
    folder = _to_home(patient)
    found: dict[int, bytes] = {}
    for name, _ in _ours(place.sizes(folder), SIGNED_SUFFIX)[-MOST_LOOKED_AT:]:
        match = re.match(rf"{patient}-([0-9]{{4}})[^0-9]", name)
        if match and int(match[1]) > above:
            content = _content(place, folder, name)
            if _signer(content) in own and (revision := _revision(content)) > above:
                found.setdefault(revision, content)
    return [content for _, content in sorted(found.items())]


def _content(place: Place, folder: str, name: str) -> bytes:
    """What lies there; nothing if it cannot be read."""
    try:
        return place.read(folder, name, signature.LARGEST_BYTES)
    except StorageError:
        return b""


def _signer(content: bytes) -> ClinicIdentity | None:
    try:
        return signature.verify(content).clinic
    except TrustError:
        return None


def _revision(content: bytes) -> int:
    try:
        return open_prescription(content).prescription.revision
    except (TrustError, PrescriptionError):
        return 0


def fetch_prescription(
    place: Place,
    patient: str,
    destination: Path,
    pin_folder: PinFolder,
    *,
    today: date,
    confirm: Confirm = nobody,
    new_clinic: bool = False,
) -> Fetched:
    """Let the newest prescription in that the paired clinic issued to this patient.

    The highest revision is tried first; one that is refused does not keep a good older one out. Revisions before the
    one in force, and what clinics left behind that the patient was paired with earlier, lie there without a word.

    Args: `confirm` and `new_clinic` as for `import_prescription`; with `new_clinic`, files of other keys are tried
    first. Raises StorageError, PinError.
    """
    found, refused = _prescriptions(place, patient)
    pins = pin_folder.load(patient)
    candidates = _parsed(found, patient, pins, new_clinic, refused)
    paired = pins.current.identity if pins else None
    candidates.sort(
        key=lambda c: (
            (c.clinic == paired or c.opened.succeeds(pins)) != new_clinic,
            c.opened.prescription.revision,
        ),
        reverse=True,
    )
    admission: Admission | None = None
    settled: set[ClinicIdentity | None] = set()
    for candidate in candidates:
        open_to_new = new_clinic and admission is None
        now = pin_folder.load(patient)
        if candidate.clinic in settled or not (
            open_to_new or now is None or candidate.clinic == now.current.identity or candidate.opened.succeeds(now)
        ):
            continue
        try:
            _refuse_rivals(candidate, candidates)
            admission_now = import_prescription(
                candidate.content,
                destination,
                pin_folder,
                today=today,
                confirm=confirm if admission is None else nobody,
                new_clinic=open_to_new and candidate.clinic != paired,
                patient=patient,
                opened=candidate.opened,
            )
        except OlderRevisionError:
            continue
        except (StorageError, PinError):
            raise
        except (TrustError, PrescriptionError) as reason:
            refused.append(Refusal(candidate.name, reason))
            if isinstance(reason, NotConfirmedError):
                settled.add(candidate.clinic)
        else:
            admission = admission or admission_now
            settled.add(candidate.clinic)
    return Fetched(admission, tuple(refused))


def send_handovers(outbox: Path, place: Place, *, again: bool = False) -> list[str]:
    """Copy every whole sealed hand-over from this computer's outbox that is not there yet; gives the names copied.

    Run again after being cut off, it goes on with what is missing. `again` also replaces what is there, for when the
    clinic finds a copy damaged. Raises StorageError.
    """
    if not outbox.is_dir():
        return []
    waiting = LocalPlace(outbox)
    there = {} if again else place.sizes(TO_CLINIC)
    sent = []
    for name, size in _ours(waiting.sizes("."), SEALED_SUFFIX):
        content = waiting.read(".", name, sealing.LARGEST_BYTES)
        # The mark in the name keeps two hand-overs apart that two computers called the same.
        marked = f"{name.removesuffix(SEALED_SUFFIX)}-{sealing.mark_of(content)}{SEALED_SUFFIX}"
        if sealing.looks_complete(content) and there.get(marked) != size:
            place.write(TO_CLINIC, marked, content)
            sent.append(marked)
    return sent


def collect_handovers(
    place: Place,
    folder: Path,
    ledger_path: Path,
    keys: ClinicKeys,
    *,
    today: date,
    confirm: ConfirmSender = no_new_sender,
    look: Look = no_look,
    aside: Path | None = None,
) -> Collected:
    """Receive every whole hand-over that was not received before; one refused does not keep the others out.

    `look` and `aside` as for `receive_into`.

    Raises StorageError, LedgerError.
    """
    received: list[tuple[Reception, Path]] = []
    refused: list[Refusal] = []
    known = load_ledger(ledger_path).marks()
    for name, _ in _ours(place.sizes(TO_CLINIC), SEALED_SUFFIX):
        mark = name.removesuffix(SEALED_SUFFIX).rpartition("-")[2]
        content = None if mark in known else _read(place, TO_CLINIC, name, sealing.LARGEST_BYTES, refused)
        if content is None or not sealing.looks_complete(content):
            continue
        try:
            received.append(
                receive_into(folder, ledger_path, content, keys, today=today, confirm=confirm, look=look, aside=aside)
            )
        except AlreadyReceivedError:
            continue
        except (StorageError, LedgerError):
            raise
        except TrustError as reason:
            refused.append(Refusal(name, reason))
    return Collected(tuple(received), tuple(refused))


@dataclass(frozen=True)
class _Found:
    """A file whose signature fits; what it says was not looked at yet."""

    name: str
    content: bytes
    verified: signature.VerifiedFile


@dataclass(frozen=True)
class _Candidate:
    name: str
    content: bytes
    opened: OpenedPrescription

    @property
    def clinic(self) -> ClinicIdentity | None:
        return self.opened.clinic


def _prescriptions(place: Place, patient: str) -> tuple[list[_Found], list[Refusal]]:
    """Whole signed files in the patient's folder, each content once, and those that are refused at first sight."""
    found: dict[bytes, _Found] = {}
    refused: list[Refusal] = []
    folder = _to_home(patient)
    for name, _ in _ours(place.sizes(folder), SIGNED_SUFFIX):
        content = _read(place, folder, name, signature.LARGEST_BYTES, refused)
        if content is None or content in found or not signature.looks_complete(content):
            continue
        try:
            found[content] = _Found(name, content, signature.verify(content))
        except TrustError as reason:
            refused.append(Refusal(name, reason))
    return list(found.values()), refused


def _parsed(
    found: list[_Found], patient: str, pins: Pins | None, new_clinic: bool, refused: list[Refusal]
) -> list[_Candidate]:
    """What is worth reading: the paired clinic's files, and those of others only if somebody may be asked about them.

    Anybody can make a key and sign with it, so work for unknown keys is bounded; what a clinic left behind that the
    patient was paired with earlier lies there without a word.
    """
    unknown = 0
    candidates = []
    for one in found:
        clinic = one.verified.clinic
        if pins is not None and clinic != pins.current.identity and not new_clinic and not _succeeds(one, pins):
            if clinic is None or pins.under(clinic) is None:
                refused.append(Refusal(one.name, not_the_paired_clinic(patient)))
            continue
        if pins is None or clinic != pins.current.identity:
            unknown += 1
            if unknown > MOST_LOOKED_AT:
                continue
        try:
            candidates.append(_Candidate(one.name, one.content, parse_verified(one.verified)))
        except (TrustError, PrescriptionError) as reason:
            refused.append(Refusal(one.name, reason))
    return candidates


def _succeeds(found: _Found, pins: Pins) -> bool:
    """Whether the paired clinic's key vouches for the key that signed this."""
    clinic = found.verified.clinic
    return (
        clinic is not None
        and pins.under(clinic) is None
        and vouched_for(found.verified.body, pins.current.identity, clinic)
    )


def _refuse_rivals(candidate: _Candidate, candidates: list[_Candidate]) -> None:
    """Two different files of one clinic with one revision: neither can be taken for the right one."""
    revision, digest = candidate.opened.prescription.revision, candidate.opened.digest
    for other in candidates:
        if (
            other.clinic == candidate.clinic
            and other.opened.prescription.revision == revision
            and other.opened.digest != digest
        ):
            problem = say("wrong.two-different-files-revision", revision=revision)
            raise RevisionConflictError(problem, say("mend.ask-clinic-issue-right"))


def _read(place: Place, folder: str, name: str, most_bytes: int, refused: list[Refusal]) -> bytes | None:
    """A file's content; one that cannot be read is refused and keeps no other one out."""
    try:
        return place.read(folder, name, most_bytes)
    except StorageError as reason:
        refused.append(Refusal(name, reason))
        return None


def _ours(sizes: dict[str, int], suffix: str) -> list[tuple[str, int]]:
    """Names that may be ours, sorted; what a sync tool adds to the name of a copy comes before the suffix."""
    return sorted((name, size) for name, size in sizes.items() if name.endswith(suffix) and not name.startswith("."))


def _to_home(patient: str) -> str:
    return f"{TO_HOME}/{safe_code(patient)}"
