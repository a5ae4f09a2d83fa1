"""The two folders that the desk keeps: orders as they were signed, hand-overs as they were opened."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import HandoverError
from musclewood.profiles.exchange.admission import open_prescription
from musclewood.profiles.exchange.folder import SIGNED_SUFFIX
from musclewood.profiles.handover.merging import contains, merged
from musclewood.profiles.handover.reading import Handover, read_handover
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
        write_whole(self.folder / name, signed, mode=0o644)
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

        What a later one does not hold, because a journal was lost, stays. Raises HandoverError.
        """
        for paths in _by_computer(self.by_patient().get(patient, ())):
            *earlier, last = paths
            if not earlier:
                continue
            newest = _read(last).ledger
            for path in earlier:
                if contains(newest, _read(path).ledger):
                    with suppress(OSError):  # it is only in the way; the next time tries again
                        path.unlink()


def read_orders(paths: Sequence[Path]) -> tuple[Prescription, ...]:
    """The revisions in some files. Raises TrustError or PrescriptionError for a file that is not as it was signed."""
    return tuple(open_prescription(read_bounded(path, LARGEST_ORDER_BYTES)).prescription for path in paths)


def read_merged(paths: Sequence[Path]) -> tuple[Ledger, Handover | None]:
    """What all computers handed over, and the hand-over that was made last. Raises HandoverError."""
    read = [_read(path) for path in paths]
    latest = max(read, key=lambda one: one.created, default=None)
    return merged([one.ledger for one in read]), latest


def _by_computer(paths: Sequence[Path]) -> list[list[Path]]:
    """The files of each computer, the earliest first."""
    computers: dict[str, list[tuple[int, Path]]] = {}
    for path in paths:
        if match := _HANDOVER_NAME.fullmatch(path.name):
            computers.setdefault(match[2], []).append((int(match[3]), path))
    return [[path for _, path in sorted(numbered)] for numbered in computers.values()]


def _read(path: Path) -> Handover:
    try:
        return read_handover(read_bounded(path, LARGEST_BYTES))
    except HandoverError as error:
        raise HandoverError(f"{path.name}: {error.problem}", error.remedy) from None


def _grouped(folder: Path, pattern: re.Pattern[str]) -> dict[str, tuple[Path, ...]]:
    if not folder.is_dir():
        return {}
    found: dict[str, list[str]] = {}
    with os.scandir(folder) as entries:
        for entry in entries:
            if match := pattern.fullmatch(entry.name):
                found.setdefault(match[1], []).append(entry.name)
    return {code: tuple(folder / name for name in sorted(names)) for code, names in found.items()}
