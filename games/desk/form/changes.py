"""What an order changes for the patient, a sentence for each change, in the reader's language. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import Any

from musclewood.games.desk.form.cells import name_of
from musclewood.games.desk.form.model import FormModel
from musclewood.games.kit.words import Words
from musclewood.profiles.orders.draft_fields import Field


def changes(words: Words, model: FormModel) -> list[str]:
    """Against the last revision; a first order says so. English as everywhere else, other languages from the fields."""
    if words.language == "en":
        return model.draft.difference() or [words("desk.sign.same")]
    old = model.draft.previous
    if old is None:
        return [words("desk.sign.first", code=model.patient)]
    return list(_changed(words, model, old.model_dump())) or [words("desk.sign.same")]


def _changed(words: Words, model: FormModel, old: Mapping[str, Any]) -> Iterator[str]:
    before = {one["id"]: one for one in old["exercises"]}
    muscles = {one["id"]: one for one in old["muscles"]}
    for table in model.exercises:
        if table["id"] not in before:
            yield words("desk.sign.new", title=table["title"])
    for section in model.sections():
        for field in section.fields:
            yield from _field(words, model, field, _before(field, model, old, before, muscles))
    kept = {one["id"] for one in model.exercises}
    yield from (words("desk.sign.gone", title=one["title"]) for one in before.values() if one["id"] not in kept)


def _before(
    field: Field, model: FormModel, old: Mapping[str, Any], exercises: Mapping[str, Any], muscles: Mapping[str, Any]
) -> Mapping[str, Any] | None:
    """The table in which this field's value stood, found by the id of its exercise or muscle; None for a new one."""
    keys = field.key_path.split(".")
    table: Any = old
    if keys[0] == "exercises":
        table, keys = exercises.get(model.exercises[int(keys[1])]["id"]), keys[2:]
    elif keys[0] == "muscles":
        table, keys = muscles.get(model.muscles[int(keys[1])]["id"]), keys[2:]
    for key in keys[:-1]:
        if not isinstance(table, Mapping):
            break
        table = table.get(key)
    if isinstance(table, list | tuple) and keys[0] == "workshops":
        table = {name: name in table for name in (field.name,)}
    elif isinstance(table, list | tuple):
        table = {str(number): one for number, one in enumerate(table)}
    return table if isinstance(table, Mapping) else None


def _field(words: Words, model: FormModel, field: Field, table: Mapping[str, Any] | None) -> Iterator[str]:
    if table is None:
        return
    was, now = table.get(field.name), model.value(field.key_path)
    if _same(was, now):
        return
    lead = ""
    if field.key_path.startswith("exercises."):
        lead = f"{model.exercises[int(field.key_path.split('.')[1])]['title']}: "
    name = name_of(words, field)
    yield lead + words("desk.sign.change", name=name, now=_shown(words, field, now), was=_shown(words, field, was))


def _same(was: Any, now: Any) -> bool:
    return (
        list(was) == list(now) if isinstance(was, list | tuple) and isinstance(now, list | tuple) else bool(was == now)
    )


def _shown(words: Words, field: Field, value: Any) -> str:
    if value is None:
        return words("desk.form.none")
    if isinstance(value, bool):
        return words("desk.form.yes" if value else "desk.form.no")
    if isinstance(value, date):
        return value.isoformat()
    if field.kind == "days":
        return " ".join(words(f"desk.day.{day}") for day in value)
    if isinstance(value, list | tuple):
        return " ".join(f"{part:g}" for part in value)
    text = f"{value:g}" if isinstance(value, int | float) else str(value)
    key = f"desk.value.{field.name}.{text}"
    if field.kind == "choice" and words.has(key):
        return words(key)
    return f"{text} {field.unit}" if field.unit else text
