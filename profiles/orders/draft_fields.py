"""The parameters of an order that a therapist sets, with their ranges, as the schema of the prescription has them."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import annotated_types
from musclewood.profiles.orders.exercises import KINDS, AnyExercise, Effort, ScalingBounds
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import MAXIMUM
from musclewood.profiles.orders.tables import (
    DAYS,
    CalibrationOrder,
    Ceilings,
    Limits,
    Muscle,
    Practice,
    Retest,
    StopRules,
)
from pydantic import BaseModel
from pydantic.fields import FieldInfo

FieldKind = Literal["whole", "number", "choice", "days", "date", "flag", "numbers", "names"]

_UNITS = {
    "_pct_mvc": "%MVC",
    "_pct": "%",
    "_deg": "°",
    "_s": "s",
    "minutes_per_day": "min",
    "hours_between_sessions": "h",
}
# How far one press of a stepper goes. Our choice: about a twentieth of a usual value.
_STEPS = {"set_rest_s": 5.0, "rest_between_s": 5.0, "hold_s": 0.5, "rise_s": 0.1, "success_target": 0.05,
          "minutes_per_day": 5.0, "reps_per_day": 10.0, "reps_per_week": 50.0}  # fmt: skip
_ORDER = ("review", "expires", "days", "sessions_per_day", "hours_between_sessions", "language", "record_samples")
_EXERCISE = ("workshops", "sets", "reps", "hold_s", "rest_s", "set_rest_s", "results", "door_closed")
LANGUAGES = ("en", "de")


@dataclass(frozen=True)
class Field:
    """One parameter: where it stands, what it may be. `low` and `high` are None where the schema has no bounds."""

    key_path: str
    group: str
    kind: FieldKind
    unit: str = ""
    low: float | None = None
    high: float | None = None
    step: float | None = None
    choices: tuple[str, ...] = ()
    optional: bool = False

    @property
    def name(self) -> str:
        """The key itself, without the tables around it."""
        return self.key_path.rpartition(".")[2]


def fields_of(document: Mapping[str, Any]) -> tuple[Field, ...]:
    """Every parameter of this order, in the order of a form."""
    unit = "%MVC" if document["calibration"].get("reference", MAXIMUM) == MAXIMUM else "%RVC"
    found = [_field(name, "order", Prescription.model_fields[name]) for name in _ORDER]
    for key, table in (
        ("practice", Practice),
        ("stop", StopRules),
        ("ceilings", Ceilings),
        ("calibration", CalibrationOrder),
        ("limits", Limits),
    ):
        found += _fields_of_table(key, key, table)
    found += _fields_of_retest(document.get("retest") or {})
    for number, _ in enumerate(document["muscles"]):
        found += [
            _field(f"muscles.{number}.{name}", f"muscle {number}", Muscle.model_fields[name])
            for name in ("side", "role", "channel")
        ]
    for number, exercise in enumerate(document["exercises"]):
        found += _fields_of_exercise(number, KINDS[exercise["kind"]], exercise)
    return tuple(replace(field, unit=unit) if field.unit == "%MVC" else field for field in found)


def _fields_of_retest(table: Mapping[str, Any]) -> list[Field]:
    """Which test, if any; only then how often, and from when on."""
    which, *more = _fields_of_table("retest", "retest", Retest)
    return [replace(which, optional=True), *(more if table.get("test") else ())]


def _fields_of_exercise(number: int, model: type[AnyExercise], exercise: Mapping[str, Any]) -> Iterator[Field]:
    place, group = f"exercises.{number}", f"exercise {number}"
    for name in (*_EXERCISE, *model.own_parameters()):
        yield _field(f"{place}.{name}", group, model.model_fields[name])
    at_least = exercise["effort"].get("asks") == "at least"
    for field in (
        *_fields_of_table(f"{place}.effort", group, Effort),
        *_fields_of_table(f"{place}.scaling", group, ScalingBounds),
    ):
        if field.name == "asks" and not (model.traits.open_above or at_least):
            continue
        if not (at_least and field.name.startswith("tolerance_")):  # without an upper edge there is no width
            yield field


def _fields_of_table(place: str, group: str, table: type[BaseModel]) -> list[Field]:
    return [_field(f"{place}.{name}", group, field) for name, field in table.model_fields.items()]


def _field(key_path: str, group: str, info: FieldInfo) -> Field:
    shape, optional = _shape(info)
    name = key_path.rpartition(".")[2]
    if name == "language":
        return Field(key_path, group, "choice", choices=LANGUAGES)
    if name == "days":
        return Field(key_path, group, "days", choices=DAYS)
    if name == "workshops":
        return Field(key_path, group, "names")
    if name == "pattern":
        return Field(key_path, group, "numbers", low=0.0, high=1.0)
    if get_origin(shape) is Literal:
        return Field(key_path, group, "choice", choices=get_args(shape), optional=optional)
    if shape in (bool, date):
        return Field(key_path, group, "flag" if shape is bool else "date", optional=optional)
    low, high = _bounds(info)
    unit = next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), "")
    kind: FieldKind = "whole" if shape is int else "number"
    return Field(key_path, group, kind, unit, low, high, _STEPS.get(name, 1.0), optional=optional)


def _shape(info: FieldInfo) -> tuple[Any, bool]:
    """The plain type of a field, and whether it may be left out."""
    shape, optional = info.annotation, False
    while True:
        if get_origin(shape) is Annotated:
            shape = get_args(shape)[0]
        elif get_origin(shape) in (Union, UnionType):
            optional = True
            shape = next(part for part in get_args(shape) if part is not type(None))
        else:
            return shape, optional


def _bounds(info: FieldInfo) -> tuple[float | None, float | None]:
    marks = list(_marks(info))
    low = next((float(mark.ge) for mark in marks if isinstance(mark, annotated_types.Ge)), None)  # type: ignore[arg-type]
    high = next((float(mark.le) for mark in marks if isinstance(mark, annotated_types.Le)), None)  # type: ignore[arg-type]
    return low, high


def _marks(info: FieldInfo) -> Iterator[Any]:
    yield from info.metadata
    for part in (info.annotation, *get_args(info.annotation)):
        for mark in getattr(part, "__metadata__", ()):
            yield from mark.metadata if isinstance(mark, FieldInfo) else (mark,)


@cache
def _truth() -> dict[str, bool]:
    return {"on": True, "yes": True, "true": True, "1": True, "off": False, "no": False, "false": False, "0": False}


def read_typed(text: str, field: Field) -> Any:
    """What was typed as the value it means; what cannot be read stays text, so that the schema names it."""
    text = text.strip()
    if not text:
        return None
    if field.kind == "flag":
        return _truth().get(text.lower(), text)
    if field.kind in ("days", "names"):
        return tuple(text.lower().replace(",", " ").split())
    with contextlib.suppress(ValueError):
        if field.kind == "date":
            return date.fromisoformat(text)
        if field.kind == "whole":
            return int(text)
        if field.kind == "number":
            return float(text.replace(",", "."))
        if field.kind == "numbers":
            return tuple(float(part) for part in text.replace(",", " ").split())
    return text
