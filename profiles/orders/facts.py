"""Everything in an order that acts on the patient, table by table: what whoever signs it must have seen. Pure.

Walks the order itself, so that a parameter which is added later is shown without anybody thinking of it here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from musclewood.profiles.orders.difference import named, shown
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import unit_of

# What acts on nobody: who and when, the words beside the dose, and names by which tables find each other.
NOT_ACTING = ("format", "patient", "clinic", "note", "revision", "issued", "description", "acknowledged", "sensors")
_NAMES_OF_TABLES = ("id",)
_LEADS = {
    "stop": "Stop rules", "ceilings": "Ceilings", "calibration": "What 100 % is", "practice": "Practice",
    "limits": "Limits", "retest": "Test at home", "sensors": "Enclosed sensor descriptions", "": "Schedule",
}  # fmt: skip
_OWN_NAMES = {"calibration.rest_s": "rest at first"}


@dataclass(frozen=True)
class Fact:
    """One table of the order. `place` is its key path ('' for the order itself), `lead` whose it is: a muscle or
    exercise."""

    place: str
    lead: str
    entries: tuple[tuple[str, Any], ...]
    percent: str = "%MVC"  # what efforts are per cent of

    def unit(self, key: str) -> str:
        return named(key)[1].replace("%MVC", self.percent)

    @property
    def kind(self) -> str:
        """The table's name without numbers: 'exercises-effort'."""
        return "-".join(part for part in self.place.split(".") if not part.isdecimal())


def facts(prescription: Prescription) -> tuple[Fact, ...]:
    """Muscles and exercises first, then the rules for all of them, then the days."""
    document = prescription.model_dump()
    muscles = {one.id: f"{one.name}, {one.side}" for one in prescription.muscles}
    first = ("muscles", "exercises", "stop", "ceilings")
    keys = [*first, *(key for key in document if key not in (*first, *NOT_ACTING))]
    tables = {key: document[key] for key in keys if _is_table(document[key])}
    found: list[Fact] = []
    for key, value in tables.items():
        for place, table in _numbered(key, value):
            found += _of_table(place, table, _lead(table), muscles)
    own = tuple((key, document[key]) for key in keys if key not in tables)
    if prescription.sensors:  # its text is for the program; whoever signs sees which it is
        found.append(Fact("sensors", "", (("kind", tuple(one.name for one in prescription.sensors)),)))
    percent = unit_of(prescription.calibration)
    return tuple(replace(fact, percent=percent) for fact in (*found, Fact("", "", own)))


def in_words(fact: Fact) -> str:
    """One line for a reader of English."""
    lead = fact.lead or _LEADS.get(fact.place, fact.place)
    parts = []
    for key, value in fact.entries:
        name = _OWN_NAMES.get(f"{fact.kind}.{key}", named(key)[0])
        parts.append(f"{name} {' and '.join(value) if key == 'muscles' else shown(value, fact.unit(key))}")
    return f"{lead}: {'; '.join(parts)}."


def _of_table(place: str, table: Mapping[str, Any], lead: str, muscles: Mapping[str, str]) -> Iterator[Fact]:
    plain, inner = [], {}
    for key, value in table.items():
        if key in _NAMES_OF_TABLES or value == lead:
            continue
        if _is_table(value):
            inner[key] = value
        elif key == "muscles":
            plain.append((key, tuple(muscles.get(one, one) for one in value)))
        else:
            plain.append((key, value))
    if plain:
        yield Fact(place, lead, tuple(plain))
    for key, value in inner.items():
        for inside, one in _numbered(f"{place}.{key}", value):
            yield from _of_table(inside, one, lead, muscles)


def _lead(table: Mapping[str, Any]) -> str:
    return str(table.get("title") or table.get("name") or "")


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping) or (
        isinstance(value, list | tuple) and bool(value) and isinstance(value[0], Mapping)
    )


def _numbered(key: str, value: Any) -> list[tuple[str, Mapping[str, Any]]]:
    if isinstance(value, Mapping):
        return [(key, value)]
    return [(f"{key}.{number}", one) for number, one in enumerate(value)]
