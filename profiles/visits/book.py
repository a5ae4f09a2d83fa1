"""The clinic's book of visits: a file an entry, numbered, tied to the one before; appended, never overwritten.

    visits/HB-0042-000001-test.json

The name says what it holds, so that a list of everybody opens few of them. Each is written whole and durable
(`disk/files.py`), for this user alone. Two desks on one folder take turns.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from musclewood.assets.saying import Saying, say
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.disk.locking import locked
from musclewood.profiles.errors import ClinicError, StorageError
from musclewood.profiles.orders.faults import faults_of_schema
from musclewood.profiles.visits.entries import Content, Entry, Signed, initials_problem
from musclewood.profiles.visits.standing import Standing, standing_of
from pydantic import ValidationError

FIRST = "0" * 64
LARGEST_ENTRY = 200_000
_NAME = re.compile(r"([A-Z]{2,4}-[0-9]{3,5})-([0-9]{6})-(test|set-aside|away|discharge|return|signed)\.json")


@dataclass(frozen=True)
class VisitBook:
    """Every patient's entries, in one folder."""

    folder: Path

    def by_patient(self) -> Mapping[str, tuple[Path, ...]]:
        """The files by patient, the oldest first."""
        found: dict[str, list[str]] = {}
        if self.folder.is_dir():
            for name in os.listdir(self.folder):
                if match := _NAME.fullmatch(name):
                    found.setdefault(match[1], []).append(name)
        return {code: tuple(self.folder / name for name in sorted(names)) for code, names in sorted(found.items())}

    def add(self, patient: str, content: Content, at: datetime, by: str = "") -> Entry:
        """Write one more entry. Raises ClinicError for initials that are none, StorageError."""
        if problem := initials_problem(by):
            raise ClinicError(problem, say("mend.use-two-four-capital"))
        with locked(self.folder / patient):
            paths = self.by_patient().get(patient, ())
            number = 1 + max((_number(path) for path in paths), default=0)
            before = _hash(paths[-1]) if paths else FIRST
            try:
                entry = Entry(patient=patient, number=number, at=at, by=by or None, before=before, content=content)
            except ValidationError as error:
                raise ClinicError(*_first_fault(error)) from None
            write_whole(self.folder / _name(entry), (entry.model_dump_json(indent=1) + "\n").encode())
        return entry

    def entries(self, patient: str) -> tuple[Entry, ...]:
        """The oldest first. Raises StorageError for an entry that cannot be read, was changed, or is missing before
        one."""
        return read_entries(self.by_patient().get(patient, ()))

    def standing(self, paths: tuple[Path, ...]) -> Standing:
        """Absence and discharge alone, read from the few entries that say so. Raises StorageError."""
        return standing_of(
            Signed(revision=1) if path.name.endswith("-signed.json") else _read(path).content
            for path in paths
            if not path.name.endswith(("-test.json", "-set-aside.json"))
        )


def read_entries(paths: tuple[Path, ...]) -> tuple[Entry, ...]:
    """Entries of one patient, each held to the one before it. Raises StorageError."""
    found: list[Entry] = []
    before = FIRST
    for number, path in enumerate(paths, start=1):
        entry = _read(path)
        if entry.number != number or entry.before != before or _name(entry) != path.name:
            problem = say("wrong.entry-before-changed-missing", name=path.name)
            raise StorageError(problem, say("mend.restore-folder-visits-backup"))
        found.append(entry)
        before = _hash(path)
    return tuple(found)


def _read(path: Path) -> Entry:
    content = read_bounded(path, LARGEST_ENTRY)
    try:
        return Entry.model_validate_json(content)
    except ValidationError as error:
        raise StorageError(
            say("wrong.in-book", name=path.name, first_fault=_first_fault(error)[0]), say("mend.restore-the-backup")
        ) from None


def _name(entry: Entry) -> str:
    return f"{entry.patient}-{entry.number:06d}-{entry.content.what}.json"


def _hash(path: Path) -> str:
    return hashlib.sha256(read_bounded(path, LARGEST_ENTRY)).hexdigest()


def _number(path: Path) -> int:
    match = _NAME.fullmatch(path.name)
    return int(match[2]) if match else 0


def _first_fault(error: ValidationError) -> tuple[Saying, str]:
    fault = faults_of_schema(error, Entry)[0]
    return say("wrong.not-as-wanted", where=fault.key_path, what=fault.problem), fault.remedy
