"""Turns what a parser or a schema complains about into faults that a therapist can mend, one line each."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, get_args

import annotated_types
from musclewood.profiles.errors import Fault
from musclewood.profiles.orders.checks import Parts
from musclewood.profiles.orders.exercises import KINDS
from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

MOST_FAULTS = (
    200  # more than anybody mends at once; finding the right word for thousands would take seconds. Our choice.
)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_WANTED = {
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a finite number",
    "bool_type": "true or false",
    "string_type": "text in quotes",
    "date_type": "a date such as 2026-11-25, without quotes",
    "tuple_type": "a list in [brackets]",
    "model_type": "a table",
    "model_attributes_type": "a table",
    "dict_type": "a table",
    "union_tag_invalid": f"one of {', '.join(KINDS)}",
}
_PATTERNS = {
    r"^[a-z][a-z0-9-]{0,31}$": "a short name of small letters, digits and hyphens, starting with a letter",
    r"^[a-z][a-z0-9_]{0,31}$": "the name of a workshop, such as 'kiln'",
    r"^[a-z]{2}(-[A-Z]{2})?$": "a language such as 'en' or 'de-CH'",
}


def faults_of_syntax(error: Exception, text: str) -> list[Fault]:
    """The one fault that stops a TOML parser, with its line and column."""
    if isinstance(error, RecursionError):
        return [Fault("(file)", "tables or lists are nested far too deeply", "start from one of the templates")]
    message = " ".join(str(error).split())
    if place := re.search(r"\(at line (\d+), column (\d+)\)", message):
        where = f"line {place[1]}, column {place[2]}"
    elif "at end of document" in message:
        where = f"line {text.count(chr(10)) + 1}, at the end"
    else:
        where = "(file)"
    problem = re.sub(r"\s*\(at [^)]*\)$", "", message)
    return [Fault(where, f"this is not TOML 1.0: {problem[:1].lower()}{problem[1:160]}", "mend this line")]


def faults_of_schema(error: ValidationError, root: type[BaseModel]) -> list[Fault]:
    """One fault for every complaint of the schema, in the order of the file's tables."""
    details = [dict(detail) for detail in error.errors(include_url=False)]
    return [_fault(detail, root) for detail in details[:MOST_FAULTS] if not _echo(detail)]


def _echo(detail: Mapping[str, Any]) -> bool:
    """Whether a list is only called too short because of faults in its entries, which are reported themselves."""
    return detail["type"] == "too_short" and bool(len(detail["input"]) >= detail["ctx"]["min_length"])


def _fault(detail: Mapping[str, Any], root: type[BaseModel]) -> Fault:
    location: tuple[int | str, ...] = detail["loc"]
    owner, field = _look_up(location, root)
    kind, context = detail["type"], detail.get("ctx", {})
    path = _key_path(location)
    if kind == "union_tag_not_found":
        return Fault(f"{path}.kind", "this key is missing", f"add it: one of {', '.join(KINDS)}")
    if kind == "union_tag_invalid":
        return Fault(f"{path}.kind", f"got {_shown(context.get('tag'))}", f"use {_WANTED[kind]}")
    if kind == "missing":
        return Fault(path, "this key is missing", f"add it{_range_words(field, '; ')}")
    if kind == "extra_forbidden":
        return Fault(path, "no such key is known", _nearest(str(location[-1]), owner))
    if kind == "value_error":
        return Fault(path, f"got {_shown(detail.get('input'))}", str(context.get("error", detail["msg"])))
    return Fault(path, f"got {_shown(detail.get('input'))}", _remedy(kind, context, field, detail["msg"]))


def _remedy(kind: str, context: Mapping[str, Any], field: FieldInfo | None, message: str) -> str:
    if kind == "literal_error":
        return f"allowed {context['expected']}"
    if kind == "string_pattern_mismatch":
        return f"use {_PATTERNS.get(context['pattern'], message)}"
    if kind in _WANTED:
        return f"use {_WANTED[kind]}{_range_words(field, ', ')}"
    words = _range_words(field, "")
    return words or f"{message[:1].lower()}{message[1:]}"


def _range_words(field: FieldInfo | None, lead: str) -> str:
    """'allowed 1 to 100' from the bounds that a field declares; empty if it declares none."""
    if field is None:
        return ""
    bounds = [*field.metadata, *(part for argument in get_args(field.annotation) for part in _metadata(argument))]
    low = next((bound.ge for bound in bounds if isinstance(bound, annotated_types.Ge)), None)
    high = next((bound.le for bound in bounds if isinstance(bound, annotated_types.Le)), None)
    shortest = next((bound.min_length for bound in bounds if isinstance(bound, annotated_types.MinLen)), None)
    longest = next((bound.max_length for bound in bounds if isinstance(bound, annotated_types.MaxLen)), None)
    if low is not None and high is not None:
        return f"{lead}allowed {low} to {high}"
    if shortest is not None and longest is not None:
        return f"{lead}allowed {shortest} to {longest} {'characters' if field.annotation is str else 'entries'}"
    return ""


def _metadata(annotation: Any) -> Sequence[Any]:
    parts: list[Any] = []
    for item in getattr(annotation, "__metadata__", ()):
        parts += item.metadata if isinstance(item, FieldInfo) else [item]
    return parts


def _nearest(key: str, owner: type[BaseModel] | None) -> str:
    known = list(owner.model_fields) if owner else []
    close = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
    if close:
        return f"did you mean {close[0]!r}?"
    return f"remove it; known keys here: {', '.join(known)}"


def _look_up(location: Sequence[int | str], root: type[BaseModel]) -> tuple[type[BaseModel] | None, FieldInfo | None]:
    """The table that holds the last key of a location, and that key's field if it is known."""
    owner: type[BaseModel] | None = root
    field: FieldInfo | None = None
    for step in location:
        if isinstance(step, int) or owner is None:
            continue
        if step in KINDS and field is not None and location[0] == "exercises":
            owner, field = KINDS[step], None
            continue
        if field is not None:
            owner = _table_in(field.annotation) or owner
        field = owner.model_fields.get(step)
    return owner, field


def _table_in(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    tables = (_table_in(argument) for argument in get_args(annotation))
    return next((table for table in tables if table is not None), None)


def _key_path(location: Sequence[int | str]) -> str:
    path = ""
    for number, step in enumerate(location):
        if isinstance(step, int):
            path += f"[{step}]"
        elif number == 2 and location[0] == "exercises" and step in KINDS:
            continue  # the schema's own name for the alternative, no key of the file
        else:
            key = step if _BARE_KEY.fullmatch(step) else _shown(step)
            path += f".{key}" if path else key
    return path or "(file)"


def _shown(value: object) -> str:
    """A value on one line, short."""
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bool):
        return str(value).lower()
    try:
        words = repr(value)
    except ValueError:  # a whole number with thousands of digits
        return "an enormous number"
    words = " ".join(words.split())
    return words if len(words) <= 60 else f"{words[:57]}..."


def readable_parts(document: Mapping[str, Any], root: type[BaseModel]) -> Parts:
    """Those parts of a faulty document that are sound by themselves, so that they can be checked against each other."""

    def part(key: str) -> Any:
        field = root.model_fields[key]
        return _validated(field.rebuild_annotation(), document.get(key))

    tables = document.get("exercises")
    tables = tables if isinstance(tables, list) else []
    field = root.model_fields["exercises"]
    (one_exercise, _) = get_args(field.annotation)
    read = [(index, _validated(one_exercise, table)) for index, table in enumerate(tables[:MOST_FAULTS])]
    exercises = [(index, exercise) for index, exercise in read if exercise is not None]
    return Parts(
        muscles=part("muscles"),
        exercises=exercises,
        all_exercises_readable=len(exercises) == len(tables),
        stop=part("stop"),
        ceilings=part("ceilings"),
        issued=part("issued"),
        review=part("review"),
        expires=part("expires"),
        days=part("days"),
        sessions_per_day=1 if "sessions_per_day" not in document else part("sessions_per_day"),
        hours_between_sessions=part("hours_between_sessions"),
        calibration=part("calibration"),
    )


def _validated(annotation: Any, value: object) -> Any:
    if value is None:
        return None
    try:
        return TypeAdapter(annotation).validate_python(value, strict=None)
    except ValidationError:
        return None
