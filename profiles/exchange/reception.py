"""The clinic's door: a sealed hand-over is opened, checked and put down, each of them once."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.profiles.disk.files import write_whole
from musclewood.profiles.disk.locking import locked
from musclewood.profiles.errors import ArchiveError, HandoverError, OtherPatientError, SetAsideError, UnknownHomeError
from musclewood.profiles.exchange.received import ReceivedLedger, load_ledger, save_ledger
from musclewood.profiles.trust.archive import read_archive
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


Look = Callable[[Mapping[str, bytes]], object]
LONGEST_FAULT = 300


def no_look(_: Mapping[str, bytes]) -> None:
    """The content is taken as it is."""


def no_new_sender(_: NewSender) -> bool:
    """For runs where nobody can be asked: only computers that were accepted earlier."""
    return False


def _let_in(
    content: bytes, keys: ClinicKeys, ledger: ReceivedLedger, patient: str | None, confirm: ConfirmSender
) -> tuple[Header, bytes]:
    """Everything that is judged before the content is looked at: whose it is, and whether their
    computer is accepted."""
    opened = unseal(content, keys)
    header = opened.header
    if patient is not None and header.patient != patient:
        raise OtherPatientError(
            say("wrong.hand-over-not", patient=header.patient, patient2=patient), say("mend.choose-right-file")
        )
    ledger.refuse_replay(header)
    if not ledger.knows(header.patient, header.sender):
        further = any(receipt.patient == header.patient for receipt in ledger.receipts)
        words = sender_words(bytes.fromhex(header.sender))
        if not confirm(NewSender(header.patient, words, further)):
            problem = say("wrong.hand-over-comes-computer", patient=header.patient)
            raise UnknownHomeError(problem, say("mend.ask-patient-words-accept"))
    return header, opened.payload


def _unpacked(header: Header, payload: bytes) -> dict[str, bytes]:
    """Raises ArchiveError, OtherPatientError."""
    files = read_archive(payload)
    inside = _patient_inside(files)
    if inside != header.patient:
        problem = say("wrong.hand-over-labelled-but", patient=header.patient, value=inside or "nobody")
        raise OtherPatientError(problem, say("mend.ask-new-hand-over"))
    return files


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
    look: Look = no_look,
    aside: Path | None = None,
) -> tuple[Reception, Path]:
    """Receive a hand-over, put its zip into `folder`, then note it in the ledger.

    In that order: a power cut between the two leaves a zip that the next try writes again, with the same name and
    content. `look` reads the content and raises HandoverError for what the desk could not show. One that its computer
    sealed and that is no good goes to the folder `aside`, is noted with its reason, and raises SetAsideError: the same
    file would be no better the next time. Raises TrustError otherwise; nothing has changed then.
    """
    # The question to the therapist may take its time, so it is asked before the ledger is locked.
    ledger = load_ledger(ledger_path)
    header, payload = _let_in(content, keys, ledger, patient, confirm)
    name = f"{handover_name(header.patient, bytes.fromhex(header.sender), header.sequence)}.zip"
    note = _Note(ledger_path, header, mark_of(content), today)
    try:
        files = _unpacked(header, payload)
        look(files)
    except (ArchiveError, HandoverError, OtherPatientError) as error:
        if aside is None:
            raise
        note.put(aside / name, payload, fault=f"{error.problem}; {error.remedy}"[:LONGEST_FAULT])
        raise SetAsideError(say("wrong.in-file", name=name, problem=error.problem), error.remedy) from None
    ledger = note.put(folder / name, payload)
    return Reception(header, payload, files, ledger.is_newest(header)), folder / name


@dataclass(frozen=True)
class _Note:
    """What is written down of one hand-over."""

    ledger_path: Path
    header: Header
    mark: str
    today: date

    def put(self, path: Path, payload: bytes, fault: str | None = None) -> ReceivedLedger:
        """First the file, then the receipt; gives the ledger as it was before."""
        with locked(self.ledger_path):
            ledger = load_ledger(self.ledger_path)
            ledger.refuse_replay(self.header)
            write_whole(path, payload)
            save_ledger(ledger.with_receipt(self.header, self.mark, self.today, fault), self.ledger_path)
        return ledger
