"""The form without a window: what can be set, what stands there, what is wrong with it. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from musclewood.games.desk.form import offered
from musclewood.profiles.errors import Fault
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.draft_fields import Field
from musclewood.profiles.orders.exercises import MUSCLES_OF_KIND
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS

MOST_EXERCISES, MOST_MUSCLES = 12, 8  # as the schema has it


@dataclass(frozen=True)
class Section:
    """One leaf of the form. `number` counts exercises from 0."""

    key: str
    fields: tuple[Field, ...]
    number: int | None = None


class FormModel:
    """Holds a draft; every change replaces it by another. What makes no sense is kept and shows among the faults."""

    def __init__(self, draft: Draft) -> None:
        self.draft = draft
        if draft.previous is None:  # templates are written in English
            self._speak(self.language)
        self.first = self.draft

    # -- what there is

    @property
    def patient(self) -> str:
        return str(self.draft.document["patient"])

    @property
    def language(self) -> str:
        return str(self.draft.document.get("language", "en"))

    @property
    def muscles(self) -> tuple[Mapping[str, Any], ...]:
        return tuple(self.draft.document["muscles"])

    @property
    def exercises(self) -> tuple[Mapping[str, Any], ...]:
        return tuple(self.draft.document["exercises"])

    @property
    def prescription(self) -> Prescription | None:
        return self.draft.prescription

    @property
    def touched(self) -> bool:
        return self.draft is not self.first

    def sections(self) -> list[Section]:
        """The leaves in their order: the plan, the rules, the muscles, then one for each exercise."""
        fields = self.draft.fields()

        def of(*groups: str) -> tuple[Field, ...]:
            return tuple(field for field in fields if field.group in groups)

        sections = [Section("order", of("order", "practice"))]
        sections += [Section(name, of(name)) for name in ("stop", "ceilings", "calibration")]
        sections.append(Section("muscles", tuple(field for field in fields if field.group.startswith("muscle "))))
        for number, _ in enumerate(self.exercises):
            own = (*self._chosen_fields(number), *of(f"exercise {number}"))
            sections.append(Section(f"exercise:{number}", own, number))
        return sections

    def fields(self) -> tuple[Field, ...]:
        """Everything that can be set, of all sections."""
        return tuple(field for section in self.sections() for field in section.fields)

    def field(self, path: str) -> Field:
        """Raises KeyError."""
        return {field.key_path: field for field in self.fields()}[path]

    def _chosen_fields(self, number: int) -> tuple[Field, ...]:
        """Title and muscles of an exercise: chosen from what is offered, never written."""
        exercise, group = self.exercises[number], f"exercise {number}"
        names = offered.titles(exercise["kind"], self.language, exercise["title"])
        found = [Field(f"exercises.{number}.title", group, "choice", choices=names)]
        ids = tuple(muscle["id"] for muscle in self.muscles)
        for place in range(MUSCLES_OF_KIND[exercise["kind"]]):
            found.append(Field(f"exercises.{number}.muscles.{place}", group, "choice", choices=ids))
        return tuple(found)

    def value(self, path: str) -> Any:
        """What stands there now; None where nothing does. Raises KeyError."""
        exercise, place = self._chosen_place(path)
        if exercise is None:
            return self.draft.value(path)
        if place is None:
            return exercise["title"]
        return exercise["muscles"][place] if place < len(exercise["muscles"]) else None

    def text(self, path: str) -> str:
        """What stands there, as somebody would type it."""
        value = self.value(path)
        if value is None:
            return ""
        if isinstance(value, bool):
            return "on" if value else "off"
        if isinstance(value, date):
            return value.isoformat()
        if isinstance(value, list | tuple):
            return " ".join(f"{part:g}" if isinstance(part, float) else str(part) for part in value)
        return f"{value:g}" if isinstance(value, float) else str(value)

    # -- changes

    def set(self, path: str, text: str) -> None:
        """Put what was typed into a field. Raises KeyError for a path that is none of `fields`."""
        exercise, place = self._chosen_place(path)
        if exercise is None:
            self.draft = self.draft.set(path, text)
            if path == "language":
                self._speak(text)
        elif text in self.field(path).choices:
            self._choose(path, exercise, place, text)

    def step(self, path: str, by: int) -> None:
        """One step up or down; choices, flags and patterns go round. Raises KeyError."""
        field = self.field(path)
        exercise, place = self._chosen_place(path)
        if exercise is not None:
            now = self.value(path)
            here = field.choices.index(now) if now in field.choices else -1
            self._choose(path, exercise, place, field.choices[(here + by) % len(field.choices)])
        elif field.kind == "numbers":
            now = self.value(path)
            here = offered.PATTERNS.index(tuple(now)) if tuple(now or ()) in offered.PATTERNS else -1
            self.draft = self.draft.set(path, offered.PATTERNS[(here + by) % len(offered.PATTERNS)])
        else:
            self.draft = self.draft.step(path, by)
            if path == "language":
                self._speak(self.language)

    def _speak(self, language: str) -> None:
        """Say titles and places in the patient's language."""
        self.draft = replace(self.draft, document=offered.in_language(self.draft.document, language))

    def toggle_day(self, day: str) -> None:
        """Put a day of the week into the plan, or take it out."""
        now = self.draft.value("days")
        days = set(now) if isinstance(now, list | tuple) else set()
        days ^= {day}
        self.draft = self.draft.set("days", tuple(name for name in DAYS if name in days))

    def add_exercise(self, kind: str) -> int:
        """One more exercise of this kind; gives its number."""
        taken = [exercise["id"] for exercise in self.exercises]
        self.draft = self.draft.with_exercise(offered.new_exercise(kind, self.language, self.muscles, taken))
        return len(self.exercises) - 1

    def remove_exercise(self, number: int) -> None:
        self.draft = self.draft.without(number)

    def add_muscle(self, known: offered.KnownMuscle) -> None:
        self._change(muscles=(*self.muscles, offered.new_muscle(known, self.language, self.muscles)))

    def remove_muscle(self, number: int) -> None:
        self._change(muscles=tuple(one for place, one in enumerate(self.muscles) if place != number))

    # -- what is wrong

    def faults(self) -> tuple[Fault, ...]:
        return self.draft.faults

    def fault_of(self, path: str) -> Fault | None:
        """The first fault of this field."""
        return next((fault for fault in self.draft.faults if _belongs(fault, path)), None)

    def faults_of(self, section: Section) -> tuple[Fault, ...]:
        """All faults of a section, also those that belong to none of its fields."""
        return tuple(fault for fault in self.draft.faults if self._section_key(fault.key_path) == section.key)

    def loose_faults(self, section: Section) -> tuple[Fault, ...]:
        """Faults of a section that no field shows."""
        paths = [field.key_path for field in section.fields]
        return tuple(fault for fault in self.faults_of(section) if not any(_belongs(fault, path) for path in paths))

    def _section_key(self, path: str) -> str:
        first, _, rest = path.partition(".")
        if first == "exercises" and rest:
            return f"exercise:{rest.partition('.')[0]}"
        return first if first in ("stop", "ceilings", "calibration", "muscles") else "order"

    # -- inside

    def _chosen_place(self, path: str) -> tuple[Mapping[str, Any] | None, int | None]:
        """The exercise whose title or muscle a path names, and the muscle's place; (None, None) for any other path."""
        parts = path.split(".")
        if parts[0] != "exercises" or len(parts) < 3 or parts[2] not in ("title", "muscles"):
            return None, None
        if not parts[1].isdecimal() or int(parts[1]) >= len(self.exercises):
            raise KeyError(path)
        return self.exercises[int(parts[1])], int(parts[3]) if parts[2] == "muscles" else None

    def _choose(self, path: str, exercise: Mapping[str, Any], place: int | None, value: str) -> None:
        number = int(path.split(".")[1])
        if place is None:
            changed = {**exercise, "title": value}
        else:
            muscles = list(exercise["muscles"]) + [value] * (place + 1 - len(exercise["muscles"]))
            muscles[place] = value
            changed = {**exercise, "muscles": tuple(muscles)}
        exercises = list(self.exercises)
        exercises[number] = changed
        self._change(exercises=tuple(exercises))

    def _change(self, **tables: Any) -> None:
        self.draft = replace(self.draft, document={**self.draft.document, **tables})


def _belongs(fault: Fault, path: str) -> bool:
    """Whether a fault is this field's: its own, or that of an entry in its list."""
    return fault.key_path == path or (
        fault.key_path.startswith(f"{path}.") and path.rpartition(".")[2] in ("days", "pattern")
    )
