"""The two folders that the desk keeps: orders as they were signed, hand-overs as they were opened."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from musclewood.profiles.caseload.summary import facts_of
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import HandoverError, StorageError
from musclewood.profiles.exchange.admission import open_prescription
from musclewood.profiles.exchange.folder import SIGNED_SUFFIX
from musclewood.profiles.handover.merging import contains, merged
from musclewood.profiles.handover.parsing import moment
from musclewood.profiles.handover.reading import Handover, handover_of, one_clear_line, read_handover
from musclewood.profiles.journal.ledger import Ledger
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.trust.pins import safe_code
from musclewood.profiles.trust.sealing import LARGEST_BYTES
from musclewood.profiles.trust.signature import LARGEST_BYTES as LARGEST_ORDER_BYTES

_ORDER_NAME = re.compile(r"([A-Z]{2,4}-[0-9]{3,5})-([0-9]{4})" + re.escape(SIGNED_SUFFIX))
_HANDOVER_NAME = re.compile(r"([A-Z]{2,4}-[0-9]{3,5})-([0-9a-f]{8})-([0-9]{6,})\.zip")


@dataclass(frozen=True)
class OrderFiles:
    """Every revision that was issued."""

    folder: Path

    def by_patient(self) -> dict[str, tuple[Path, ...]]:
        """The files by patient, the oldest revision first."""
        return _grouped(self.folder, _ORDER_NAME)

    def last_revision(self, patient: str) -> int:
        """0 when nothing was issued."""
        paths = self.by_patient().get(patient, ())
        return max((int(match[2]) for path in paths if (match := _ORDER_NAME.fullmatch(path.name))), default=0)

    def keep(self, prescription: Prescription, signed: bytes) -> Path:
        """Raises StorageError."""
        name = f"{safe_code(prescription.patient)}-{prescription.revision:04d}{SIGNED_SUFFIX}"
        write_whole(self.folder / name, signed)
        return self.folder / name


@dataclass(frozen=True)
class Received:
    """Every hand-over that was opened."""

    folder: Path

    def by_patient(self) -> dict[str, tuple[Path, ...]]:
        """The files by patient, by computer, the oldest first."""
        return _grouped(self.folder, _HANDOVER_NAME)

    def tidy(self, patient: str) -> None:
        """Remove hand-overs of which a later one of the same computer holds every session; a year has hundreds of them.

        What a later one does not hold, because a journal was lost, stays, and so does what cannot be read.
        """
        for paths in _by_computer(self.by_patient().get(patient, ())):
            *earlier, last = paths
            newest = _read_or_fault(last) if earlier else ""
            if isinstance(newest, str):
                continue
            for path in earlier:
                older = _read_or_fault(path)
                if not isinstance(older, str) and contains(newest.ledger, older.ledger):
                    with suppress(OSError):  # it is only in the way; the next time tries again
                        path.unlink()


def read_orders(paths: Sequence[Path]) -> tuple[Prescription, ...]:
    """The revisions in some files. Raises TrustError or PrescriptionError for a file that is not as it was signed."""
    return tuple(open_prescription(read_bounded(path, LARGEST_ORDER_BYTES)).prescription for path in paths)


class Merged(NamedTuple):
    """What all computers handed over, the hand-over that was made last, and what is wrong with one that nothing later
    of the same computer takes the place of ('' if nothing is)."""

    ledger: Ledger
    latest: Handover | None
    fault: str


def read_merged(paths: Sequence[Path], *, efforts: bool = False) -> Merged:
    """Everything that some hand-overs of one patient say; one that cannot be read hides nothing of the others.

    `efforts`: also the course of effort in each repetition, which is nine tenths of the work.
    """
    read: list[Handover] = []
    fault = ""
    for numbered in _by_computer(paths):
        found = [_read_or_fault(path, efforts=efforts) for path in numbered]
        read += [one for one in found if isinstance(one, Handover)]
        fault = fault or next((one for one in found[-1:] if isinstance(one, str)), "")
    latest = max(read, key=lambda one: moment(one.created), default=None)
    return Merged(merged([one.ledger for one in read]), latest, fault)


def presentable(files: Mapping[str, bytes]) -> None:
    """Whether the desk can show a hand-over: read every cell, and make the facts of it. Raises HandoverError."""
    handover = handover_of(files, efforts=False)
    with one_clear_line():
        made = moment(handover.created).date()
        facts_of(handover.prescription.patient, handover.orders, handover.ledger, made)


def _by_computer(paths: Sequence[Path]) -> list[list[Path]]:
    """The files of each computer, the earliest first."""
    computers: dict[str, list[tuple[int, Path]]] = {}
    for path in paths:
        if match := _HANDOVER_NAME.fullmatch(path.name):
            computers.setdefault(match[2], []).append((int(match[3]), path))
    return [[path for _, path in sorted(numbered)] for numbered in computers.values()]


def _read_or_fault(path: Path, *, efforts: bool = False) -> Handover | str:
    try:
        return read_handover(read_bounded(path, LARGEST_BYTES), efforts=efforts)
    except (HandoverError, StorageError) as error:
        return f"{path.name}: {error.problem}; {error.remedy}"


def _grouped(folder: Path, pattern: re.Pattern[str]) -> dict[str, tuple[Path, ...]]:
    if not folder.is_dir():
        return {}
    found: dict[str, list[str]] = {}
    with os.scandir(folder) as entries:
        for entry in entries:
            if match := pattern.fullmatch(entry.name):
                found.setdefault(match[1], []).append(entry.name)
    return {code: tuple(folder / name for name in sorted(names)) for code, names in found.items()}
