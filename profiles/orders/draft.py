"""An order in the making: every dose parameter can be stepped or typed, and what is wrong with it is known at once.

A draft holds what was typed, right or wrong, as the tables of a prescription file. It cannot be changed; each change
gives a new one. Only what `fields` lists can be set: there is no field for a name, a birth date or a place, and no
free text in which one could be written.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Any

from musclewood.assets.saying import say
from musclewood.profiles.errors import Fault, PrescriptionError
from musclewood.profiles.orders.checks import cross_faults
from musclewood.profiles.orders.daily_dose import daily_dose, dose_in_words
from musclewood.profiles.orders.difference import difference
from musclewood.profiles.orders.draft_fields import LANGUAGES, Field, fields_of, read_typed
from musclewood.profiles.orders.exercises import minutes_of, reps_of
from musclewood.profiles.orders.faults import faults_of_schema, readable_parts
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.retests import DEFAULT_WEEKS, usual_first
from musclewood.profiles.orders.tables import EnclosedSensor
from musclewood.profiles.orders.usual_practice import Concern, concerns
from pydantic import ValidationError


@dataclass(frozen=True)
class Preview:
    """What a draft would ask of the patient on a day on which it is due."""

    reps_a_day: int
    minutes_a_day: float
    sessions_a_day: int
    days_a_week: int
    sentence: str
    by_exercise: tuple[tuple[str, int, float], ...]  # title, reps and minutes of one session


@dataclass(frozen=True, eq=False)
class Draft:
    """`document` is the prescription as nested tables; `previous` the revision it follows, None for the first."""

    document: Mapping[str, Any]
    previous: Prescription | None = None

    @classmethod
    def of(cls, prescription: Prescription, previous: Prescription | None = None) -> Draft:
        return cls(prescription.model_dump(), previous)

    def fields(self) -> tuple[Field, ...]:
        """Every parameter that can be set, in the order of a form."""
        return self._fields

    def value(self, key_path: str) -> Any:
        """What stands there now; None for an optional parameter that is left out. Raises KeyError."""
        self._field(key_path)
        return _at(self.document, key_path.split("."))

    def set(self, key_path: str, value: Any) -> Draft:
        """With another value, or what somebody typed. What makes no sense is kept and shows in `faults`.

        Raises KeyError for a parameter that there is none of.
        """
        field = self._field(key_path)
        if isinstance(value, str):
            value = read_typed(value, field)
        document = _changed(self.document, key_path.split("."), value)
        if key_path.startswith("muscles.") and field.name == "side":
            document = _with_other_sides(document, int(key_path.split(".")[1]))
        if key_path.startswith("retest."):
            document = {**document, "retest": _retest_with_days(document, self.document)}
        changed = Draft(document, self.previous)
        if field.name not in (
            "asks",
            "reference",
            "test",
        ):  # no other value changes a field; a form asks for them at every key
            changed.__dict__["_fields"] = self._fields
        return changed

    def step(self, key_path: str, by: int) -> Draft:
        """Some steps up or down, within the parameter's range; choices and flags go round. Raises KeyError."""
        field, value = self._field(key_path), self.value(key_path)
        return self.set(key_path, _stepped(field, value, by, self.document.get("issued")))

    def without(self, exercise: int) -> Draft:
        """Without an exercise, counted from 0. Raises IndexError."""
        exercises = list(self.document["exercises"])
        del exercises[exercise]
        return Draft({**self.document, "exercises": tuple(exercises)}, self.previous)

    def with_sensors(self, sensors: Iterable[EnclosedSensor]) -> Draft:
        """With these descriptions enclosed beside, or in the place of, those of the same id."""
        kept = {one["id"]: one for one in self.document.get("sensors") or ()}
        kept |= {one.id: one.model_dump() for one in sensors}
        return Draft({**self.document, "sensors": tuple(kept.values()) or None}, self.previous)

    def without_sensors(self) -> Draft:
        """With no description enclosed."""
        return Draft({**self.document, "sensors": None}, self.previous)

    def with_exercise(self, exercise: Mapping[str, Any]) -> Draft:
        """With one more exercise, given as its table."""
        return Draft({**self.document, "exercises": (*self.document["exercises"], dict(exercise))}, self.previous)

    @property
    def faults(self) -> tuple[Fault, ...]:
        """All that is wrong, each with the key path of its field."""
        return self._checked[1]

    @property
    def prescription(self) -> Prescription | None:
        """The order as it would be issued; None while there are faults."""
        return self._checked[0]

    def difference(self) -> list[str]:
        """What changes for the patient, in words; none while there are faults or when nothing changes."""
        return difference(self.previous, self.prescription) if self.prescription else []

    @property
    def refused(self) -> dict[str, Concern]:
        """The concerns among the faults, by the fault's problem."""
        document = _without_none(self.document)
        with suppress(ValidationError, PrescriptionError):
            found = concerns(Prescription.model_validate(document), self.previous)
            return {one.sentence(): one for one in found if one.refused}
        return {}

    def concerns(self) -> tuple[Concern, ...]:
        """What is outside usual practice and must be acknowledged; none while there are faults."""
        return concerns(self.prescription, self.previous) if self.prescription else ()

    def preview(self) -> Preview | None:
        """Repetitions and minutes; None while there are faults."""
        order = self.prescription
        if order is None:
            return None
        reps, minutes = daily_dose(order)
        each = tuple((one.title, reps_of(one), minutes_of(one)) for one in order.exercises)
        return Preview(reps, minutes, order.sessions_per_day, len(order.days), dose_in_words(order), each)

    @cached_property
    def _fields(self) -> tuple[Field, ...]:
        return fields_of(self.document)

    def _field(self, key_path: str) -> Field:
        for field in self._fields:
            if field.key_path == key_path:
                return field
        raise KeyError(key_path)

    @cached_property
    def _checked(self) -> tuple[Prescription | None, tuple[Fault, ...]]:
        document = _without_none(self.document)
        if not document.get("limits"):
            document.pop("limits", None)
        if not document.get("retest", {}).get("test"):
            document.pop("retest", None)
        try:
            order = Prescription.model_validate(document)
            refused = tuple(_refusal(order, one) for one in concerns(order, self.previous) if one.refused)
            if order.language not in LANGUAGES:  # a file may have another; nobody would read it out
                refused += (_unspoken(order.language),)
            return (None, refused) if refused else (order, ())
        except PrescriptionError as error:
            faults = list(error.faults)
        except ValidationError as error:
            faults = faults_of_schema(error, Prescription) + cross_faults(readable_parts(document, Prescription))
        return None, tuple(Fault(dotted(fault.key_path), fault.problem, fault.remedy) for fault in faults)


def _unspoken(language: str) -> Fault:
    return Fault(
        "language", say("wrong.not-spoken", language=language), say("mend.choose-one", known=", ".join(LANGUAGES))
    )


def _refusal(order: Prescription, concern: Concern) -> Fault:
    """What is far outside usual practice, at the place where it can be mended."""
    number = next((place for place, one in enumerate(order.exercises) if one.id == concern.exercise), 0)
    name = {"hold": "hold_s", "rest": "rest_s", "step": "effort.target_pct_mvc"}.get(concern.key, "reps")
    return Fault(f"exercises.{number}.{name}", concern.sentence(), say("mend.order-less"))


def _with_other_sides(document: dict[str, Any], chosen: int) -> dict[str, Any]:
    """Where no side was chosen yet, it follows from the one that was: only the uninvolved muscle is on the other."""
    known = document["muscles"][chosen]
    if known["side"] not in ("left", "right"):
        return document
    other = "left" if known["side"] == "right" else "right"
    muscles = []
    for muscle in document["muscles"]:
        same = (muscle["role"] == "uninvolved") == (known["role"] == "uninvolved")
        muscles.append(muscle if muscle["side"] else {**muscle, "side": known["side"] if same else other})
    return {**document, "muscles": tuple(muscles)}


def _retest_with_days(document: Mapping[str, Any], before: Mapping[str, Any]) -> dict[str, Any] | None:
    """A test that was just chosen gets its usual days; another number of weeks moves the first day along, unless it was
    set."""
    table, earlier, issued = document["retest"], before.get("retest") or {}, document.get("issued")
    if not table.get("test"):
        return None
    table = {**table, "every_weeks": table.get("every_weeks", DEFAULT_WEEKS)}
    weeks, known = table["every_weeks"], [earlier.get("every_weeks")]
    if not isinstance(issued, date) or not isinstance(weeks, int):
        return table
    usual = [None, *(usual_first(issued, one) for one in known if isinstance(one, int))]
    return {**table, "first": usual_first(issued, weeks)} if table.get("first") in usual else table


def dotted(key_path: str) -> str:
    """'exercises[0].reps' as 'exercises.0.reps', which is how fields are called."""
    return key_path.replace("[", ".").replace("]", "")


def _at(table: Any, keys: list[str]) -> Any:
    for key in keys:
        table = table[int(key)] if isinstance(table, list | tuple) else (table or {}).get(key)
    return table


def _changed(table: Any, keys: list[str], value: Any) -> Any:
    if not keys:
        return value
    key, *rest = keys
    if isinstance(table, list | tuple):
        entries = list(table)
        entries[int(key)] = _changed(entries[int(key)], rest, value)
        return tuple(entries)
    table = table or {}
    return {**table, key: _changed(table.get(key), rest, value)}


def _without_none(table: Any) -> Any:
    """What a file would hold: parameters that are left out are not there."""
    if isinstance(table, Mapping):
        return {key: _without_none(value) for key, value in table.items() if value is not None}
    return [_without_none(entry) for entry in table] if isinstance(table, list | tuple) else table


def _stepped(field: Field, value: Any, by: int, issued: Any) -> Any:
    if field.kind == "flag":
        return not value
    if field.kind == "choice":
        choices = (None, *field.choices) if field.optional else field.choices
        place = choices.index(value) if value in choices else -1
        return choices[(place + by) % len(choices)]
    if field.kind == "date":
        start = value if isinstance(value, date) else issued
        return start + timedelta(days=by) if isinstance(start, date) else value
    if field.kind not in ("whole", "number") or field.step is None:
        return value
    number = value if isinstance(value, int | float) and not isinstance(value, bool) else None
    # Steps fall on multiples of themselves, so that 33.5 goes to 34 or 33 and not to 34.5.
    moved = (field.low or 0.0) if number is None else field.step * (round(number / field.step, 6) // 1 + by)
    if number is not None and by < 0 and round(number / field.step, 6) % 1:
        moved += field.step
    low = field.low if field.low is not None else moved
    high = field.high if field.high is not None else moved
    moved = round(min(max(moved, low), high), 6)
    return int(moved) if field.kind == "whole" else float(moved)
