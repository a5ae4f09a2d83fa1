"""What the home side remembers about clinics: one small file a patient, so that no patient's clinic is another's.

A pin file keeps every clinic key this patient was ever paired with, and the newest revision seen under each: going back
to an earlier clinic does not let its old prescriptions in again. A missing file means 'never paired'; an unreadable one
never does.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

from musclewood.assets.saying import say
from musclewood.profiles.clinic_code import CLINIC_CODE
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import PinError, StorageError
from musclewood.profiles.trust.keys import ClinicIdentity
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

LARGEST_BYTES = 1_000_000
_SUFFIX = ".pin.json"


class Pairing(BaseModel):
    """One clinic key, and the newest revision that was accepted under it."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    key: Annotated[str, Field(pattern=r"^[0-9a-f]{128}$")]
    clinic: str
    paired_on: date
    revision: Annotated[int, Field(ge=1)]
    digest: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]

    @property
    def identity(self) -> ClinicIdentity:
        return ClinicIdentity.from_bytes(bytes.fromhex(self.key))


class Pins(BaseModel):
    """All pairings of one patient; the last one is in force."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    format: Literal["musclewood-pins/1"] = "musclewood-pins/1"
    patient: str
    pairings: Annotated[tuple[Pairing, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _each_key_once(self) -> Pins:
        if len({pairing.key for pairing in self.pairings}) < len(self.pairings):
            raise ValueError("a key is listed twice")
        return self

    @property
    def current(self) -> Pairing:
        return self.pairings[-1]

    def under(self, clinic: ClinicIdentity) -> Pairing | None:
        """What is remembered under a clinic's key, in force or not."""
        key = clinic.joined.hex()
        return next((pairing for pairing in self.pairings if pairing.key == key), None)


def remember(pins: Pins | None, patient: str, pairing: Pairing) -> Pins:
    """The pins with this pairing in force; it replaces what was known under its key, but for the day it began."""
    known = pins.under(pairing.identity) if pins else None
    if known:
        pairing = pairing.model_copy(update={"paired_on": known.paired_on})
    others = tuple(other for other in (pins.pairings if pins else ()) if other.key != pairing.key)
    return Pins(patient=patient, pairings=(*others, pairing))


@dataclass(frozen=True)
class PinFolder:
    """Where pin files live on this computer."""

    folder: Path

    def load(self, patient: str) -> Pins | None:
        """What is remembered for a patient; None when never paired. Raises PinError when it cannot be told."""
        path = self.path(patient)
        if not path.exists():
            return None
        try:
            pins = Pins.model_validate_json(read_bounded(path, LARGEST_BYTES))
        except (ValidationError, StorageError):
            raise _unreadable(patient) from None
        if pins.patient != patient:
            raise _unreadable(patient)
        return pins

    def save(self, pins: Pins) -> None:
        """Replace a patient's pin file in one step. Raises StorageError."""
        write_whole(self.path(pins.patient), (pins.model_dump_json(indent=2) + "\n").encode())

    def ever_paired(self) -> bool:
        """Whether any patient on this computer was ever paired with a clinic, readable or not."""
        return self.folder.is_dir() and any(self.folder.glob(f"*{_SUFFIX}"))

    def path(self, patient: str) -> Path:
        return self.folder / f"{safe_code(patient)}{_SUFFIX}"


def safe_code(patient: str) -> str:
    """A clinic code that may be a file name. Raises ValueError."""
    if not re.fullmatch(CLINIC_CODE, patient):
        raise ValueError(say("wrong.no-clinic-code", patient=patient))
    return patient


def _unreadable(patient: str) -> PinError:
    problem = say("wrong.what-remembered-about-clinic", patient=patient)
    return PinError(problem, say("mend.restore-or-pair-again"))
