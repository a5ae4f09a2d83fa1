"""The clinic's memory of hand-overs: which computers it accepted for each patient, and which numbers it received.

The file is one JSON document, replaced in one step. A missing file means that nothing was received; an unreadable one
never does.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

from musclewood.assets.saying import say
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import AlreadyReceivedError, LedgerError, ReplayedError, StorageError
from musclewood.profiles.trust.sealing import Header, Hex32
from pydantic import BaseModel, ConfigDict, Field, ValidationError

LARGEST_BYTES = 64 << 20


class Receipt(BaseModel):
    """One hand-over that was received."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    patient: str
    sender: Hex32
    sequence: Annotated[int, Field(ge=1)]
    digest: Hex32
    received_on: date
    mark: Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]  # of the sealed file, as it was carried
    # Why it was set aside; None for a sound one.
    fault: str | None = None
    # Whether the therapist was told of it. 'begun': a run was about to say it, and may have been cut off before or
    # after.
    named: Literal["no", "begun", "yes"] = "yes"


class ReceivedLedger(BaseModel):
    """Every receipt, in the order of arrival."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    format: Literal["musclewood-ledger/1"] = "musclewood-ledger/1"
    receipts: tuple[Receipt, ...] = ()

    def knows(self, patient: str, sender: str) -> bool:
        """Whether this computer was accepted for this patient."""
        return any(receipt.patient == patient and receipt.sender == sender for receipt in self.receipts)

    def marks(self) -> frozenset[str]:
        """The marks of all sealed files that were received; they need not even be read again."""
        return frozenset(receipt.mark for receipt in self.receipts)

    def is_newest(self, header: Header) -> bool:
        """Whether no later one of the same computer was received; a memory stick may bring an earlier one late."""
        return all(receipt.sequence < header.sequence for receipt in self._from(header))

    def refuse_replay(self, header: Header) -> None:
        """Raises ReplayedError for a number that was used before."""
        for receipt in self._from(header):
            if receipt.sequence != header.sequence:
                continue
            if receipt.digest == header.payload_digest:
                problem = say(
                    "wrong.hand-over-already-received",
                    sequence=header.sequence,
                    patient=header.patient,
                    received_on=receipt.received_on,
                )
                raise AlreadyReceivedError(problem, say("mend.nothing-needs-done"))
            problem = say("wrong.number-already-used-different", sequence=header.sequence, patient=header.patient)
            raise ReplayedError(problem, say("mend.patient-computer-started-new"))

    def unnamed(self) -> tuple[Receipt, ...]:
        """What the therapist was not told of yet, or perhaps not."""
        return tuple(receipt for receipt in self.receipts if receipt.named != "yes")

    def naming_begun(self) -> ReceivedLedger:
        """With everything that was not named yet about to be."""
        begun = tuple(r if r.named == "yes" else r.model_copy(update={"named": "begun"}) for r in self.receipts)
        return self.model_copy(update={"receipts": begun})

    def named(self, marks: Collection[str]) -> ReceivedLedger:
        """With these named, by the marks of their sealed files."""
        told = tuple(r.model_copy(update={"named": "yes"}) if r.mark in marks else r for r in self.receipts)
        return self.model_copy(update={"receipts": told})

    def set_aside(self) -> dict[str, str]:
        """Why the last hand-over of a patient was set aside, by patient; a sound one that came later has healed it.

        One that comes late, after a higher number of the same computer, says nothing about how things are now.
        """
        highest: dict[tuple[str, str], int] = {}
        faults: dict[str, str] = {}
        for receipt in self.receipts:
            of = (receipt.patient, receipt.sender)
            if receipt.sequence < highest.get(of, 0):
                continue
            highest[of] = receipt.sequence
            faults.pop(receipt.patient, None)
            if receipt.fault:
                faults[receipt.patient] = receipt.fault
        return faults

    def came_late(self, receipt: Receipt) -> bool:
        """Whether a later one of the same computer had been received before."""
        before = self.receipts[: self.receipts.index(receipt)]
        return any(r.sender == receipt.sender and r.sequence > receipt.sequence for r in before)

    def with_receipt(self, header: Header, mark: str, received_on: date, fault: str | None = None) -> ReceivedLedger:
        receipt = Receipt(
            patient=header.patient,
            sender=header.sender,
            sequence=header.sequence,
            digest=header.payload_digest,
            received_on=received_on,
            mark=mark,
            fault=fault,
            named="no",
        )
        return self.model_copy(update={"receipts": (*self.receipts, receipt)})

    def _from(self, header: Header) -> list[Receipt]:
        return [r for r in self.receipts if r.patient == header.patient and r.sender == header.sender]


def load_ledger(path: Path) -> ReceivedLedger:
    """Raises LedgerError."""
    if not path.exists():
        return ReceivedLedger()
    try:
        return ReceivedLedger.model_validate_json(read_bounded(path, LARGEST_BYTES))
    except (ValidationError, StorageError):
        problem = say("wrong.list-received-hand-overs", name=path.name)
        raise LedgerError(problem, say("mend.restore-backup")) from None


def save_ledger(ledger: ReceivedLedger, path: Path) -> None:
    """Raises StorageError."""
    write_whole(path, (ledger.model_dump_json() + "\n").encode())
