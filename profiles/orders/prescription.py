"""The prescription: the file in which a therapist orders exercises, read, checked and written.

TOML 1.0 through `tomllib` alone (other parsers accept TOML 1.1, and a file must not mean two things). All that is wrong
is reported at once, each fault with its key path; nothing is ever read half.
"""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

import tomli_w
from musclewood.assets.saying import say
from musclewood.profiles.clinic_code import clinic_code_problem
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.disk.plain_text import refuse_long_keys
from musclewood.profiles.errors import Fault, PrescriptionError, StorageError
from musclewood.profiles.orders.checks import Parts, cross_faults
from musclewood.profiles.orders.exercises import Exercise, OneLine, Sentence, Table, TimeZone
from musclewood.profiles.orders.faults import faults_of_schema, faults_of_syntax, readable_parts
from musclewood.profiles.orders.tables import (
    CalibrationOrder,
    Ceilings,
    Day,
    Description,
    EnclosedSensor,
    Limits,
    Muscle,
    Practice,
    Retest,
    StopRules,
)
from pydantic import Field, ValidationError, field_validator, model_validator

Acknowledged = Annotated[str, Field(pattern=r"^[a-z-]{1,20}(:[a-z][a-z0-9-]{0,31})?$")]
FORMAT = "musclewood-prescription/1"
LARGEST_FILE_BYTES = 1_000_000


class Prescription(Table):
    """One revision of one patient's order. There is no field for a name, a birth date or a place, and none may be
    added."""

    format: Literal["musclewood-prescription/1"]
    patient: str
    clinic: Annotated[str, Field(min_length=1, max_length=80), OneLine]
    note: Sentence | None = None
    revision: Annotated[int, Field(ge=1, le=9999)]
    issued: date
    expires: date | None = None
    review: date
    timezone: TimeZone | None = None
    language: Annotated[str, Field(pattern=r"^[a-z]{2}(-[A-Z]{2})?$")] = "en"
    days: Annotated[tuple[Day, ...], Field(min_length=1, max_length=7, strict=False)]
    sessions_per_day: Annotated[int, Field(ge=1, le=4)] = 1
    hours_between_sessions: Annotated[float, Field(ge=0, le=48)] = 4.0
    record_samples: bool = False
    practice: Practice = Practice()
    calibration: CalibrationOrder = CalibrationOrder()
    stop: StopRules
    ceilings: Ceilings
    limits: Limits | None = None
    retest: Retest | None = None  # left out where there is none, so that earlier programs read the rest as well
    # Concerns outside usual practice that whoever signed has seen and meant, as `usual_practice.py` names them.
    acknowledged: Annotated[tuple[Acknowledged, ...], Field(max_length=100, strict=False)] | None = None
    description: Description = Description()
    # Descriptions of the sensors that fit. Left out where there are none, so that earlier programs read the rest as
    # well.
    sensors: Annotated[tuple[EnclosedSensor, ...], Field(min_length=1, max_length=8, strict=False)] | None = None
    muscles: Annotated[tuple[Muscle, ...], Field(min_length=1, max_length=8, strict=False)]
    exercises: Annotated[tuple[Exercise, ...], Field(min_length=1, max_length=12, strict=False)]

    @field_validator("patient")
    @classmethod
    def _a_clinic_code(cls, value: str) -> str:
        if problem := clinic_code_problem(value):
            raise ValueError(problem)
        return value

    @model_validator(mode="after")
    def _parts_fit_together(self) -> Prescription:
        if faults := cross_faults(_parts_of(self)):
            raise PrescriptionError(faults)
        return self


def _parts_of(prescription: Prescription) -> Parts:
    return Parts(
        muscles=prescription.muscles,
        exercises=tuple(enumerate(prescription.exercises)),
        all_exercises_readable=True,
        stop=prescription.stop,
        ceilings=prescription.ceilings,
        issued=prescription.issued,
        review=prescription.review,
        expires=prescription.expires,
        days=prescription.days,
        sessions_per_day=prescription.sessions_per_day,
        hours_between_sessions=prescription.hours_between_sessions,
        calibration=prescription.calibration,
        retest=prescription.retest,
    )


def parse(text: str) -> Prescription:
    """Read a prescription from TOML text. Raises PrescriptionError with every fault found."""
    try:
        refuse_long_keys(text)
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise PrescriptionError(faults_of_syntax(error, text)) from None
    if not document:
        raise PrescriptionError([Fault("(file)", say("wrong.empty"), say("mend.start-one-templates"))])
    try:
        return Prescription.model_validate(document)
    except ValidationError as error:
        faults = faults_of_schema(error, Prescription)
        faults += cross_faults(readable_parts(document, Prescription))
        raise PrescriptionError(faults) from None


def read_text(path: Path) -> str:
    """The text of a prescription file. Raises PrescriptionError."""
    place = "(file)"
    try:
        content = read_bounded(path, LARGEST_FILE_BYTES)
    except StorageError as error:
        if path.is_dir():
            raise PrescriptionError(
                [Fault(place, say("wrong.folder", name=path.name), say("mend.choose-file-inside"))]
            ) from None
        raise PrescriptionError([Fault(place, error.problem, error.remedy)]) from None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        fault = Fault(f"line {line}", say("wrong.text-not-utf"), say("mend.save-file-utf-editor"))
        raise PrescriptionError([fault]) from None


def dump(prescription: Prescription) -> str:
    """The prescription as TOML text; `parse` gives it back unchanged, but for what another choice makes meaningless."""
    document = prescription.model_dump(exclude_none=True)
    for exercise in document["exercises"]:
        if exercise["effort"]["asks"] == "within":  # said by leaving it out, so that earlier programs read it as well
            del exercise["effort"]["asks"]
        for key, usual in (("results", "by skill"), ("door_closed", "never")):
            if exercise[key] == usual:
                del exercise[key]
    calibration = document["calibration"]
    if calibration["reference"] != "comfortable":
        del calibration["share"]
    if calibration["reference"] == "maximum":
        calibration.pop("task", None)
        del calibration["reference"]
    return tomli_w.dumps(document)


def write(prescription: Prescription, path: Path) -> None:
    """Write a prescription, replacing an older file in one step. Raises StorageError."""
    write_whole(path, dump(prescription).encode())
