"""A clinic with patients, computers at home that it accepted, and a nursery in which commands run watched."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.exchange.places import LocalPlace
from musclewood.profiles.handover.package import pack
from musclewood.profiles.journal.ledger import Ledger, LedgerSession
from musclewood.profiles.journal.records import (
    CalibrationRecord,
    RatingRecord,
    RepRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
)
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template
from musclewood.profiles.trust.key_file import LOWEST
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.sealing import mark_of, seal
from nacl.signing import SigningKey

KNEE = "weak-thigh-after-knee-operation"
PASSPHRASE = "twig lantern kettle plank"
NOW = datetime.now(UTC).replace(microsecond=0)

# Loads the program once; every command then runs in a child of its own, and what it took is told.
_NURSERY = """
import json, os, sys
import musclewood.games.commands.desk, musclewood.games.commands.exchange, musclewood.games.commands.check
import musclewood.games.commands.examine, musclewood.games.commands.report, musclewood.profiles.report.page
import icalendar, numpy.testing, scipy.special  # wanted now and then: what a file costs is no cost of an import
from musclewood.games.__main__ import main
for line in sys.stdin:
    order = json.loads(line)
    child = os.fork()
    if child == 0:
        said = os.open(order["into"], os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(said, 1); os.dup2(said, 2); os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.environ.update(order["environment"])
        try:
            code = main(order["arguments"])
        except SystemExit as leaving:
            code = leaving.code
        sys.stdout.flush(); sys.stderr.flush()
        os._exit(int(code or 0))
    if order.get("kill_after_s") is not None:
        import signal, time
        time.sleep(order["kill_after_s"])
        os.kill(child, signal.SIGKILL)
    _, status, used = os.wait4(child, 0)
    print(json.dumps([os.waitstatus_to_exitcode(status), used.ru_utime + used.ru_stime, used.ru_maxrss]), flush=True)
"""


@dataclass(frozen=True)
class Ran:
    """What a command did: its exit code, what it said, its processor time and its largest memory."""

    code: int
    said: str
    cpu_s: float
    memory_mb: float


class Nursery:
    def __init__(self, folder: Path) -> None:
        self._into = folder / "said.txt"
        self._mother = subprocess.Popen(
            [sys.executable, "-c", _NURSERY], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self.environment = {"MUSCLEWOOD_PASSPHRASE": PASSPHRASE, "MUSCLEWOOD_HOME": str(folder / "no-home")}

    def __call__(self, *arguments: object, kill_after_s: float | None = None) -> Ran:
        assert self._mother.stdin is not None and self._mother.stdout is not None
        order = {
            "into": str(self._into), "arguments": [os.fspath(a) if isinstance(a, Path) else str(a) for a in arguments],
            "environment": self.environment, "kill_after_s": kill_after_s,
        }  # fmt: skip
        print(json.dumps(order), file=self._mother.stdin, flush=True)
        code, cpu_s, memory = json.loads(self._mother.stdout.readline())
        return Ran(code, self._into.read_bytes().decode("utf-8", "backslashreplace"), cpu_s, memory / 1024)

    def close(self) -> None:
        assert self._mother.stdin is not None and self._mother.stdout is not None
        self._mother.stdin.close()
        self._mother.wait(30)
        self._mother.stdout.close()


@dataclass
class Computer:
    """A computer at home: what it seals, under numbers that go up."""

    patient: str
    clinic: ClinicKeys
    key: SigningKey = field(default_factory=SigningKey.generate)
    sequence: int = 0

    def sealed(self, payload: bytes) -> bytes:
        self.sequence += 1
        return seal(
            payload,
            patient=self.patient,
            sequence=self.sequence,
            sender=self.key,
            clinic=self.clinic.identity,
            made=NOW,
        )


@dataclass
class Bed:
    """An invented clinic with its exchange folder."""

    root: Path
    clinic: Clinic
    keys: ClinicKeys
    exchange: Path

    @property
    def place(self) -> LocalPlace:
        return LocalPlace(self.exchange)

    def patient(self, code: str) -> Computer:
        """Somebody who was prescribed something, and whose computer the clinic accepted with its first hand-over."""
        self.clinic.issue(
            self.clinic.draft_from_template(KNEE, code, NOW.date()).set("muscles.0.side", "left"), self.keys
        )
        return Computer(code, self.keys)

    def put(self, sealed: bytes, patient: str) -> Path:
        path = self.exchange / "to-clinic" / f"{patient}-{mark_of(sealed)}.sealed"
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(sealed)
        return path

    def collect(self) -> Any:
        """Accepting every computer, naming nothing."""
        return self.clinic.collect(self.keys, NOW.date(), confirm=lambda _: True)


def an_empty_clinic(folder: Path) -> Bed:
    (folder / "exchange").mkdir()
    clinic = Clinic(folder / "desk")
    clinic.save_settings(DeskSettings(clinic="Hornbeam practice", exchange=str(folder / "exchange")))
    return Bed(folder, clinic, clinic.make_key(PASSPHRASE, LOWEST), folder / "exchange")


def order_for(code: str) -> Prescription:
    day: date = NOW.date()
    update = {"patient": code, "issued": day - timedelta(days=20), "review": day + timedelta(days=20), "note": None}
    return template(KNEE).model_copy(update=update)


def handover(code: str, sessions: int = 2) -> bytes:
    """A small sound hand-over, unsealed."""
    held = []
    for number in range(1, sessions + 1):
        at = NOW - timedelta(days=sessions - number + 1)
        records = [
            RatingRecord(5.0, "pain", 1, "before"),
            CalibrationRecord("vastus-medialis", 0, 30.0, 3.1, 180.0, 0.026, (170.0, 180.0, 175.0), 180.0),
            *(
                RepRecord(
                    "thigh-hold", "hold", "kiln", 1, rep, "counted", 60.0 + 11 * rep, 65.6 + 11 * rep, 5.6, 5.1, 35.5,
                    41.0, 0.93, 90.0, 35.0, 8.0, None, (5.0, 30.5, 36.0),
                )
                for rep in range(1, 5)
            ),
            SetRecord("thigh-hold", 1, 10, 4, 4, 60.0, 200.0, quality="good"),
        ]  # fmt: skip
        start = SessionStart(code, 1, "ble", at.isoformat(), "Europe/Prague", "a sensor")
        end = SessionEnd((at + timedelta(minutes=10)).isoformat(), "complete")
        held.append(LedgerSession(number, start, end, tuple(records)))
    return pack(Ledger(tuple(held), "0" * 64), order_for(code), "<!DOCTYPE html><p>report</p>", NOW)
