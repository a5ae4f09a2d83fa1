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
from dataclasses import dataclass
from datetime import date
from pathlib import Path

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
    open_prescription,
)
from musclewood.profiles.exchange.places import LocalPlace, Place
from musclewood.profiles.exchange.received import load_ledger
from musclewood.profiles.exchange.reception import ConfirmSender, Look, Reception, no_look, no_new_sender, receive_into
from musclewood.profiles.trust import sealing, signature
from musclewood.profiles.trust.keys import ClinicIdentity, ClinicKeys
from musclewood.profiles.trust.pins import PinFolder, safe_code

TO_CLINIC = "to-clinic"
SEALED_SUFFIX = ".sealed"
SIGNED_SUFFIX = ".prescription.toml"


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


def issue(place: Place, content: bytes, *, quiet_if_there: bool = False) -> str:
    """Put a signed prescription down for its patient; gives its name. Putting it down again changes nothing, and gives
    '' with `quiet_if_there`.

    Raises RevisionConflictError when another file with the same revision lies there, UnsignedError, DamagedFileError,
    PrescriptionError, StorageError.
    """
    prescription = open_prescription(content).prescription
    folder = _to_home(prescription.patient)
    name = f"{prescription.patient}-{prescription.revision:04d}{SIGNED_SUFFIX}"
    there = place.read(folder, name, signature.LARGEST_BYTES) if name in place.sizes(folder) else b""
    if signature.looks_complete(there) and there != content:
        problem = f"another file with revision {prescription.revision} was already issued to {prescription.patient}"
        raise RevisionConflictError(problem, "raise the revision and sign again")
    if there == content:
        return "" if quiet_if_there else name
    place.write(folder, name, content)
    return name


def highest_issued(place: Place, patient: str) -> int:
    """The highest revision that lies there for a patient by its name, 0 when there is none. Raises StorageError."""
    names = [name.removesuffix(SIGNED_SUFFIX) for name, _ in _ours(place.sizes(_to_home(patient)), SIGNED_SUFFIX)]
    numbers = [name.removeprefix(f"{patient}-") for name in names]
    return max((int(number) for number in numbers if re.fullmatch("[0-9]{4}", number)), default=0)


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
    candidates, refused = _prescriptions(place, patient)
    paired = _paired(pin_folder, patient)
    candidates.sort(key=lambda c: ((c.clinic == paired) != new_clinic, c.opened.prescription.revision), reverse=True)
    admission: Admission | None = None
    settled: set[ClinicIdentity | None] = set()
    for candidate in candidates:
        open_to_new = new_clinic and admission is None
        if candidate.clinic in settled or (_was_left(candidate, pin_folder, patient) and not open_to_new):
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
class _Candidate:
    name: str
    content: bytes
    opened: OpenedPrescription

    @property
    def clinic(self) -> ClinicIdentity | None:
        return self.opened.clinic


def _prescriptions(place: Place, patient: str) -> tuple[list[_Candidate], list[Refusal]]:
    """Whole signed files in the patient's folder, each content once, and those that are refused at first sight."""
    candidates: dict[bytes, _Candidate] = {}
    refused: list[Refusal] = []
    folder = _to_home(patient)
    for name, _ in _ours(place.sizes(folder), SIGNED_SUFFIX):
        content = _read(place, folder, name, signature.LARGEST_BYTES, refused)
        if content is None or content in candidates or not signature.looks_complete(content):
            continue
        try:
            candidates[content] = _Candidate(name, content, open_prescription(content))
        except (TrustError, PrescriptionError) as reason:
            refused.append(Refusal(name, reason))
    return list(candidates.values()), refused


def _refuse_rivals(candidate: _Candidate, candidates: list[_Candidate]) -> None:
    """Two different files of one clinic with one revision: neither can be taken for the right one."""
    revision, digest = candidate.opened.prescription.revision, candidate.opened.digest
    for other in candidates:
        if (
            other.clinic == candidate.clinic
            and other.opened.prescription.revision == revision
            and other.opened.digest != digest
        ):
            problem = f"there are two different files with revision {revision}"
            raise RevisionConflictError(problem, "ask the clinic to issue the right one with a higher revision")


def _paired(pin_folder: PinFolder, patient: str) -> ClinicIdentity | None:
    pins = pin_folder.load(patient)
    return pins.current.identity if pins else None


def _was_left(candidate: _Candidate, pin_folder: PinFolder, patient: str) -> bool:
    """Whether this comes from a clinic that the patient was paired with earlier, and is no more."""
    pins = pin_folder.load(patient)
    if pins is None or candidate.clinic is None or candidate.clinic == pins.current.identity:
        return False
    return pins.under(candidate.clinic) is not None


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
    return f"to-home/{safe_code(patient)}"
