"""The clinic's door: a sealed hand-over is opened, checked and put down, each of them once."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from musclewood.profiles.disk.files import write_whole
from musclewood.profiles.disk.locking import locked
from musclewood.profiles.errors import OtherPatientError, UnknownHomeError
from musclewood.profiles.exchange.received import ReceivedLedger, load_ledger, save_ledger
from musclewood.profiles.trust.archive import Limits, read_archive
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.sealing import Header, mark_of, unseal
from musclewood.profiles.trust.senders import handover_name, sender_words


@dataclass(frozen=True)
class NewSender:
    """A computer that has not sent anything for this patient before. `further` when another one has."""

    patient: str
    words: tuple[str, ...]
    further: bool


@dataclass(frozen=True)
class Reception:
    """A hand-over that was let in: its header, its zip and the zip's files. `newest` is False for a late one."""

    header: Header
    payload: bytes
    files: dict[str, bytes]
    newest: bool


ConfirmSender = Callable[[NewSender], bool]


def no_new_sender(_: NewSender) -> bool:
    """For runs where nobody can be asked: only computers that were accepted earlier."""
    return False


def receive(
    content: bytes,
    keys: ClinicKeys,
    ledger: ReceivedLedger,
    *,
    patient: str | None = None,
    confirm: ConfirmSender = no_new_sender,
    limits: Limits | None = None,
) -> Reception:
    """Open a sealed hand-over and judge it against what was received before. Pure but for the question to the
    therapist.

    Args:
        patient: refuse a hand-over of anybody else.
        confirm: asked once for every computer that a patient sends from.
    Raises TrustError.
    """
    opened = unseal(content, keys)
    header = opened.header
    if patient is not None and header.patient != patient:
        raise OtherPatientError(f"this is a hand-over of {header.patient}, not of {patient}", "choose the right file")
    ledger.refuse_replay(header)
    files = read_archive(opened.payload, limits)
    inside = _patient_inside(files)
    if inside != header.patient:
        problem = f"this hand-over is labelled {header.patient} but its tables are of {inside or 'nobody'}"
        raise OtherPatientError(problem, "ask for a new hand-over")
    if not ledger.knows(header.patient, header.sender):
        further = any(receipt.patient == header.patient for receipt in ledger.receipts)
        words = sender_words(bytes.fromhex(header.sender))
        if not confirm(NewSender(header.patient, words, further)):
            problem = f"this hand-over of {header.patient} comes from a computer that was not accepted"
            raise UnknownHomeError(problem, "ask the patient for its words, and accept it if they are the same")
    return Reception(header, opened.payload, files, ledger.is_newest(header))


def _patient_inside(files: dict[str, bytes]) -> str | None:
    """Whom the hand-over's own description names; None when it has none that can be read."""
    try:
        return str(json.loads(files["datapackage.json"])["musclewood"]["patient"])
    except (KeyError, ValueError, TypeError, RecursionError):
        return None


def receive_into(
    folder: Path,
    ledger_path: Path,
    content: bytes,
    keys: ClinicKeys,
    *,
    today: date,
    patient: str | None = None,
    confirm: ConfirmSender = no_new_sender,
) -> tuple[Reception, Path]:
    """Receive a hand-over, put its zip into `folder`, then note it in the ledger.

    In that order: a power cut between the two leaves a zip that the next try writes again, with the same name and
    content. Raises TrustError; nothing has changed then.
    """
    # The question to the therapist may take its time, so it is asked before the ledger is locked.
    reception = receive(content, keys, load_ledger(ledger_path), patient=patient, confirm=confirm)
    header = reception.header
    path = folder / f"{handover_name(header.patient, bytes.fromhex(header.sender), header.sequence)}.zip"
    with locked(ledger_path):
        ledger = load_ledger(ledger_path)
        ledger.refuse_replay(header)
        write_whole(path, reception.payload)
        save_ledger(ledger.with_receipt(header, mark_of(content), today), ledger_path)
    return replace(reception, newest=ledger.is_newest(header)), path
