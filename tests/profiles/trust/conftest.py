"""Invented clinics, computers at home, prescriptions and hand-overs."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.exchange.admission import Admission, import_prescription
from musclewood.profiles.orders.prescription import dump
from musclewood.profiles.orders.templates import template
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.pins import PinFolder
from musclewood.profiles.trust.senders import SenderFolder, handover_name, sealer
from musclewood.profiles.trust.signature import sign

TODAY = date(2026, 11, 25)
NOW = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
PLAIN_RESULT = b"17,thigh-hold,counted,5.61,35.5"


@pytest.fixture
def today() -> date:
    return TODAY


@pytest.fixture(scope="session")
def hornbeam() -> ClinicKeys:
    return ClinicKeys(bytes(range(32)))


@pytest.fixture(scope="session")
def stranger() -> ClinicKeys:
    return ClinicKeys(bytes(range(1, 33)))


@pytest.fixture(scope="session")
def order() -> Callable[..., bytes]:
    """The bytes of a prescription; keywords change its values."""
    base = template("weak-thigh-after-knee-operation")

    def make(**changes: Any) -> bytes:
        return dump(base.model_copy(update={"revision": 1, **changes})).encode()

    return make


@pytest.fixture(scope="session")
def signed(order: Callable[..., bytes], hornbeam: ClinicKeys) -> Callable[..., bytes]:
    """The bytes of a signed prescription; `by` is the clinic."""

    def make(by: ClinicKeys = hornbeam, **changes: Any) -> bytes:
        return sign(order(**changes), by)

    return make


@dataclass
class Computer:
    """One computer at home, in a folder of its own."""

    root: Path

    @property
    def prescription(self) -> Path:
        return self.root / "prescription.toml"

    @property
    def outbox(self) -> Path:
        return self.root / "outbox"

    @property
    def pins(self) -> PinFolder:
        return PinFolder(self.root / "trust")

    @property
    def senders(self) -> SenderFolder:
        return SenderFolder(self.root / "trust")

    def bring(self, content: bytes, **changes: Any) -> Admission:
        """Import a file, everybody agreeing to every clinic."""
        values: dict[str, Any] = {"today": TODAY, "confirm": lambda _: True} | changes
        return import_prescription(content, self.prescription, self.pins, **values)

    def hand_over(self, payload: bytes, patient: str = "HB-0042") -> bytes:
        return sealer(patient, self.pins, self.senders, made=NOW)(payload)

    def put_out(self, payload: bytes, patient: str = "HB-0042") -> Path:
        content = self.hand_over(payload, patient)
        sender = self.senders.load(patient)
        path = self.outbox / f"{handover_name(patient, sender.public, sender.sequence)}.sealed"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        return path


@pytest.fixture
def computer(tmp_path: Path) -> Computer:
    return Computer(tmp_path / "computer")


@pytest.fixture
def other_computer(tmp_path: Path) -> Computer:
    return Computer(tmp_path / "other-computer")


@pytest.fixture
def paired(computer: Computer, signed: Callable[..., bytes]) -> Computer:
    computer.bring(signed())
    return computer


@pytest.fixture(scope="session")
def package() -> Callable[..., bytes]:
    """A small hand-over zip of a patient."""

    def make(patient: str = "HB-0042", rows: int = 40) -> bytes:
        description = {"name": "musclewood", "musclewood": {"format": "musclewood-handover/1", "patient": patient}}
        table = b"rep,exercise,verdict,held_s,mean\n" + (PLAIN_RESULT + b"\n") * rows
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w") as archive:
            for name, content in (("datapackage.json", json.dumps(description).encode()), ("repetitions.csv", table)):
                entry = zipfile.ZipInfo(name, NOW.timetuple()[:6])  # the same bytes whenever it is made
                archive.writestr(entry, content, zipfile.ZIP_DEFLATED)
        return buffer.getvalue()

    return make


def everything_in(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Every file below a folder with its content and time of change: what must be the same after a refusal."""
    files = (path for path in sorted(folder.rglob("*")) if path.is_file())
    return {str(path.relative_to(folder)): (path.read_bytes(), path.stat().st_mtime_ns) for path in files}


@pytest.fixture
def look() -> Callable[[Path], dict[str, tuple[bytes, int]]]:
    return everything_in
