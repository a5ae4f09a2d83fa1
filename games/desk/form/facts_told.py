"""Everything in an order that acts on the patient, and what in it is unusual, in the reader's language. Pure."""

from __future__ import annotations

from datetime import date
from typing import Any

from musclewood.games.kit.words import Words
from musclewood.profiles.orders.difference import named
from musclewood.profiles.orders.facts import Fact, facts, in_words
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.usual_practice import Concern


def facts_told(words: Words, order: Prescription) -> list[str]:
    """One line a table; in English word for word what the command line prints."""
    found = facts(order)
    return [in_words(fact) for fact in found] if words.language == "en" else [_line(words, fact) for fact in found]


def concern_told(words: Words, concern: Concern) -> str:
    """The reason, and its source."""
    return words(f"desk.concern.{concern.key}", **concern.values)


def _line(words: Words, fact: Fact) -> str:
    lead = fact.lead or words(f"desk.lead.{fact.place or 'schedule'}")
    muscle = fact.place.startswith("muscles.")
    parts = [f"{_name(words, fact, key)} {_value(words, fact, key, value)}" for key, value in fact.entries]
    return f"{lead}{',' if muscle else ':'} {'; '.join(parts)}."


def _name(words: Words, fact: Fact, key: str) -> str:
    for place in (f"desk.field.{fact.kind}-{key}", f"desk.field.{key}"):
        if words.has(place):
            return words(place)
    return named(key)[0]


def _value(words: Words, fact: Fact, key: str, value: Any) -> str:
    if value is None:
        return words("desk.form.none")
    if isinstance(value, bool):
        return words("desk.form.yes" if value else "desk.form.no")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return ", ".join(_value(words, fact, key, one) for one in value)
    if isinstance(value, int | float):
        return f"{value:g} {fact.unit(key)}".rstrip()
    for place in (f"desk.value.{key}.{value}", f"desk.{_PLACES.get(key, key)}.{value}"):
        if words.has(place):
            return words(place)
    return _with_side(words, value) if key == "muscles" else str(value)


_PLACES = {"workshops": "workshop", "days": "day"}


def _with_side(words: Words, muscle: str) -> str:
    name, _, side = muscle.rpartition(", ")
    return f"{name}, {words(f'desk.value.side.{side}')}" if side in ("left", "right") else muscle
