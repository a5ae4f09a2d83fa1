"""Turns what a parser or a schema complains about into faults that a therapist can mend, one line each."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, get_args

import annotated_types
from musclewood.assets.saying import Saying, say
from musclewood.profiles.errors import Fault
from musclewood.profiles.orders.checks import Parts
from musclewood.profiles.orders.exercises import KINDS
from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

MOST_FAULTS = (
    200  # more than anybody mends at once; finding the right word for thousands would take seconds. Our choice.
)
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
# What a value of a wrong type should have been, by what pydantic calls the complaint; keys under `wanted`.
_WANTED = {
    "int_type": "whole-number",
    "int_from_float": "whole-number",
    "float_type": "number",
    "finite_number": "finite-number",
    "bool_type": "truth",
    "string_type": "text",
    "date_type": "date",
    "tuple_type": "list",
    "model_type": "table",
    "model_attributes_type": "table",
    "dict_type": "table",
}
_PATTERNS = {
    r"^[a-z][a-z0-9-]{0,31}$": "short-name",
    r"^[a-z][a-z0-9_]{0,31}$": "workshop",
    r"^[a-z]{2}(-[A-Z]{2})?$": "language",
}


def faults_of_syntax(error: Exception, text: str) -> list[Fault]:
    """The one fault that stops a TOML parser, with its line and column."""
    if isinstance(error, RecursionError):
        return [Fault("(file)", say("wrong.nested-too-deeply"), say("mend.start-one-templates"))]
    message = " ".join(str(error).split())
    if place := re.search(r"\(at line (\d+), column (\d+)\)", message):
        where = f"line {place[1]}, column {place[2]}"
    elif "at end of document" in message:
        where = f"line {text.count(chr(10)) + 1}, at the end"
    else:
        where = "(file)"
    problem = re.sub(r"\s*\(at [^)]*\)$", "", message)
    problem = f"{problem[:1].lower()}{problem[1:160]}"
    return [Fault(where, say("wrong.not-toml", problem=problem), say("mend.mend-line"))]


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
        return Fault(f"{path}.kind", say("wrong.key-missing"), say("mend.add-allowed", allowed=_one_of_the_kinds()))
    if kind == "union_tag_invalid":
        problem = say("wrong.got", value=_shown(context.get("tag")))
        return Fault(f"{path}.kind", problem, say("mend.use", what=_one_of_the_kinds()))
    if kind == "missing":
        allowed = _allowed(field)
        remedy = say("mend.add-within", allowed=allowed) if allowed else say("mend.add")
        return Fault(path, say("wrong.key-missing"), remedy)
    if kind == "extra_forbidden":
        return Fault(path, say("wrong.key-unknown"), _nearest(str(location[-1]), owner))
    problem = say("wrong.got", value=_shown(detail.get("input")))
    if kind == "value_error":
        return Fault(path, problem, _of_a_rule(context.get("error"), detail["msg"]))
    return Fault(path, problem, _remedy(kind, context, field, detail["msg"]))


def _of_a_rule(error: object, message: str) -> str:
    """What a rule of the schema said."""
    said = error.args[0] if isinstance(error, ValueError) and error.args else message
    return said if isinstance(said, str) else str(said)


def _one_of_the_kinds() -> Saying:
    return say("wanted.one-of", known=", ".join(KINDS))


def _remedy(kind: str, context: Mapping[str, Any], field: FieldInfo | None, message: str) -> Saying:
    if kind == "literal_error":
        return say("mend.allowed", what=context["expected"])
    if kind == "string_pattern_mismatch" and (pattern := _PATTERNS.get(context["pattern"])):
        return say("mend.use", what=say(f"wanted.{pattern}"))
    allowed = _allowed(field)
    if wanted := _WANTED.get(kind):
        what = say(f"wanted.{wanted}")
        return say("mend.use-within", what=what, allowed=allowed) if allowed else say("mend.use", what=what)
    return allowed or say("mend.as-told", message=f"{message[:1].lower()}{message[1:]}")


def _allowed(field: FieldInfo | None) -> Saying | None:
    """'allowed 1 to 100' from the bounds that a field declares; None if it declares none."""
    if field is None:
        return None
    bounds = [*field.metadata, *(part for argument in get_args(field.annotation) for part in _metadata(argument))]
    low = next((bound.ge for bound in bounds if isinstance(bound, annotated_types.Ge)), None)
    high = next((bound.le for bound in bounds if isinstance(bound, annotated_types.Le)), None)
    shortest = next((bound.min_length for bound in bounds if isinstance(bound, annotated_types.MinLen)), None)
    longest = next((bound.max_length for bound in bounds if isinstance(bound, annotated_types.MaxLen)), None)
    if low is not None and high is not None:
        return say("mend.range", low=low, high=high)
    if shortest is not None and longest is not None:
        return say(f"mend.{'characters' if field.annotation is str else 'entries'}", low=shortest, high=longest)
    return None


def _metadata(annotation: Any) -> Sequence[Any]:
    parts: list[Any] = []
    for item in getattr(annotation, "__metadata__", ()):
        parts += item.metadata if isinstance(item, FieldInfo) else [item]
    return parts


def _nearest(key: str, owner: type[BaseModel] | None) -> Saying:
    known = list(owner.model_fields) if owner else []
    close = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
    if close:
        return say("mend.did-you-mean", name=close[0])
    return say("mend.remove", known=", ".join(known))


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


def _shown(value: object) -> str | Saying:
    """A value on one line, short."""
    if isinstance(value, Mapping):
        return say("wanted.table")
    if isinstance(value, list):
        return say("wanted.list-of", count=len(value))
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, bool):
        return str(value).lower()
    try:
        words = repr(value)
    except ValueError:  # a whole number with thousands of digits
        return say("wanted.enormous")
    words = " ".join(words.split())
    return words if len(words) <= 60 else f"{words[:57]}..."


def readable_parts(document: Mapping[str, Any], root: type[BaseModel]) -> Parts:
    """Those parts of a faulty document that are sound by themselves, so that they can be checked against each other."""

    def part(key: str) -> Any:
        field = root.model_fields[key]
        return _validated(TypeAdapter(field.rebuild_annotation()), document.get(key))

    tables = document.get("exercises")
    tables = tables if isinstance(tables, list) else []
    field = root.model_fields["exercises"]
    (one_exercise, _) = get_args(field.annotation)
    adapter = TypeAdapter(one_exercise)  # once for all: a document may hold hundreds
    read = [(index, _validated(adapter, table)) for index, table in enumerate(tables[:MOST_FAULTS])]
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
        retest=part("retest"),
    )


def _validated(adapter: TypeAdapter[Any], value: object) -> Any:
    if value is None:
        return None
    try:
        return adapter.validate_python(value, strict=None)
    except ValidationError:
        return None
