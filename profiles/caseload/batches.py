"""The hand-overs of a folder, found and read in batches that hold whole patients."""

from __future__ import annotations

import csv
import hashlib
import io
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.profiles.clinic_code import CLINIC_CODE
from musclewood.profiles.disk.files import read_bounded
from musclewood.profiles.errors import HandoverError, TrustError
from musclewood.profiles.handover.columns import EFFORTS, LATER, NAMES, columns_of
from musclewood.profiles.handover.package import EARLIER
from musclewood.profiles.handover.parsing import moment, sessions_from_csv
from musclewood.profiles.handover.reading import descriptor, one_clear_line, remarks
from musclewood.profiles.handover.tables import widened
from musclewood.profiles.orders.prescription import Prescription, parse
from musclewood.profiles.trust.archive import read_archive
from musclewood.profiles.trust.sealing import LARGEST_BYTES

# Tables of the caseload: all but the course of effort within each repetition, which stays in the hand-overs.
TABLES = tuple(name for name in NAMES if name != EFFORTS)
DESCRIPTOR, ORDER = "datapackage.json", "prescription.toml"
_CODE_IN_NAME = re.compile(rf"(?<![A-Za-z0-9])({CLINIC_CODE.pattern})(?![0-9])")


@dataclass(frozen=True)
class Found:
    """One hand-over as it is read for the caseload: its tables still as CSV."""

    path: Path
    patient: str
    created: datetime
    orders: tuple[Prescription, ...]
    problems: int
    tables: dict[str, bytes]


@dataclass(frozen=True)
class Listed:
    """What a folder holds: hand-overs by patient, as their names say, and files that are still sealed."""

    patients: tuple[tuple[str, tuple[Path, ...]], ...]
    sealed: int

    @property
    def files(self) -> int:
        return sum(len(paths) for _, paths in self.patients)


def list_handovers(folder: Path) -> Listed:
    """Every zip below a folder. Raises HandoverError when there is no such folder."""
    if not folder.is_dir():
        raise HandoverError(say("wrong.no-folder", folder=folder), say("mend.name-folder-hand-overs"))
    groups: dict[str, list[Path]] = {}
    sealed = 0
    for root, _, names in os.walk(folder):
        for name in sorted(names):
            sealed += name.endswith(".sealed")
            if name.endswith(".zip") and not name.startswith("."):
                match = _CODE_IN_NAME.search(name)
                groups.setdefault(match[1] if match else "", []).append(Path(root) / name)
    return Listed(tuple((code, tuple(paths)) for code, paths in sorted(groups.items())), sealed)


def batches(listed: Listed, most_files: int) -> Iterator[tuple[Path, ...]]:
    """Files in batches of about `most_files`, no patient in two of them."""
    batch: list[Path] = []
    for _, paths in listed.patients:
        if batch and len(batch) + len(paths) > most_files:
            yield tuple(batch)
            batch = []
        batch += paths
    if batch:
        yield tuple(batch)


def read_found(path: Path) -> Found:
    """Read one hand-over, checked as far as it is used; `refuse_unsound` looks at every cell. Raises HandoverError."""
    try:
        content = read_bounded(path, LARGEST_BYTES)
        wanted = {DESCRIPTOR, ORDER, *(f"{name}.csv" for name in TABLES)}
        files = read_archive(content, only=_Wanted(wanted))
    except TrustError as error:
        raise HandoverError(error.problem, error.remedy) from None
    with one_clear_line():
        package = descriptor(files[DESCRIPTOR])
        ours = package["musclewood"]
        tables = {name: _checked(name, files, package) for name in TABLES}
        earlier = [parse(files[name].decode()) for name in sorted(files) if name.startswith(EARLIER)]
        order = parse(files[ORDER].decode())
        if order.patient != ours["patient"]:
            raise HandoverError(say("wrong.order-another-patient"))
        problems = len(remarks(ours["journal_problems"])) + len(remarks(ours["journal_notices"]))
        return Found(path, order.patient, moment(package["created"]), (*earlier, order), problems, tables)


def refuse_unsound(found: Found) -> None:
    """Hold every cell to its column, which takes longer than all the rest. Raises HandoverError."""
    with one_clear_line():
        sessions_from_csv({**found.tables, EFFORTS: b",".join(c.encode() for c in columns_of(EFFORTS)) + b"\r\n"})


class _Wanted(set[str]):
    """Names that are read; earlier orders are wanted whatever their revision."""

    def __contains__(self, name: object) -> bool:
        return super().__contains__(name) or (isinstance(name, str) and name.startswith(EARLIER))


def _checked(name: str, files: dict[str, bytes], package: dict[str, Any]) -> bytes:
    if name in LATER and f"{name}.csv" not in files:
        return f"{','.join(columns_of(name))}\r\n".encode()
    content = files[f"{name}.csv"]
    resource = next(one for one in package["resources"] if one["name"] == name)
    if resource["hash"] != f"sha256:{hashlib.sha256(content).hexdigest()}":
        raise HandoverError(say("wrong.csv-not-written", name=name))
    try:
        return widened(name, content)
    except ValueError as error:
        raise HandoverError(error.args[0], say("mend.update-program")) from None


def numbered_rows(number: int, table: bytes) -> bytes:
    """The rows of a CSV without their header, each with a number before it."""
    rows = table.partition(b"\r\n")[2]
    if not rows:
        return b""
    if b'"' not in rows:  # then no value holds a line's end, and lines are rows
        return b"%d," % number + rows[:-2].replace(b"\r\n", b"\r\n%d," % number) + b"\r\n"
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerows([str(number), *row] for row in csv.reader(io.StringIO(rows.decode(), newline="")))
    return buffer.getvalue().encode()
