"""The form without a window: what can be set, what stands there, what is wrong with it. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from musclewood.games.desk.form import offered
from musclewood.games.workshops import fitting
from musclewood.games.workshops.ordered import workshop_faults
from musclewood.profiles.errors import Fault
from musclewood.profiles.orders.draft import Draft, dotted
from musclewood.profiles.orders.draft_fields import Field, read_typed
from musclewood.profiles.orders.exercises import KINDS
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS, EnclosedSensor
from musclewood.profiles.visits.entries import Entry
from musclewood.profiles.visits.filling import Filled, fill

MOST_EXERCISES, MOST_MUSCLES = 12, 8  # as the schema has it


@dataclass(frozen=True)
class Section:
    """One leaf of the form. `number` counts exercises from 0."""

    key: str
    fields: tuple[Field, ...]
    number: int | None = None


@dataclass(frozen=True)
class _Chosen:
    """A title, a muscle by its place, or a workshop by its name, of an exercise counted from 0."""

    exercise: int
    what: str
    which: str


class FormModel:
    """Holds a draft; every change replaces it by another. What makes no sense is kept and shows among the faults."""

    def __init__(self, draft: Draft, sensors: Sequence[EnclosedSensor] = ()) -> None:
        """sensors: the descriptions that the clinic has, each of which may go with the order."""
        self.draft = draft
        sent = (EnclosedSensor.model_validate(one) for one in draft.document.get("sensors") or ())
        self._sensors = {one.id: one for one in (*sent, *sensors)}  # the clinic's own is the newer one
        if draft.previous is None:  # templates are written in English
            self._speak(self.language)
        self.first = self.draft
        self.filled: dict[str, Filled] = {}  # by key path, until it is changed: which test it comes from

    def fill(self, entries: Sequence[Entry]) -> None:
        """Take what the latest tests propose; everything can be changed afterwards."""
        self.draft, filled = fill(self.draft, entries)
        self.filled = {one.key_path: one for one in filled}

    def from_test(self, path: str) -> Filled | None:
        """The test that a field's value comes from, unless it was changed since."""
        filled = self.filled.get(path)
        return filled if filled and self.value(path) == filled.value else None

    def section_from_test(self, section: Section) -> bool:
        """Whether any field of this leaf comes from a test."""
        return any(self._section_key(path) == section.key and self.from_test(path) for path in self.filled)

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
        return None if self.faults() else self.draft.prescription

    @property
    def touched(self) -> bool:
        return self.draft is not self.first

    def sections(self) -> list[Section]:
        """The leaves in their order: the plan, the rules, the muscles, then one for each exercise."""
        fields = self.draft.fields()

        def of(*groups: str) -> tuple[Field, ...]:
            return tuple(field for field in fields if field.group in groups)

        known = (Field(f"sensors.{name}", "sensors", "flag") for name in self._sensors)
        sections = [Section("order", (*of("order", "practice"), *known))]
        sections += [Section(name, of(name)) for name in ("stop", "ceilings")]
        sections.append(Section("calibration", of("calibration", "limits", "retest")))
        sections.append(Section("muscles", tuple(field for field in fields if field.group.startswith("muscle "))))
        for number, _ in enumerate(self.exercises):
            dose = (field for field in of(f"exercise {number}") if field.kind != "names")  # ticked one by one
            own = (*self._chosen_fields(number), *dose)
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
        for place in range(KINDS[exercise["kind"]].traits.muscles):
            found.append(Field(f"exercises.{number}.muscles.{place}", group, "choice", choices=ids))
        fit = fitting(exercise["kind"])
        offered_here = fit if len(fit) > 1 else ()
        found += [Field(f"exercises.{number}.workshops.{name}", group, "flag") for name in offered_here]
        return tuple(found)

    def value(self, path: str) -> Any:
        """What stands there now; None where nothing does. Raises KeyError."""
        if (sensor := self._sensor(path)) is not None:
            return sensor.id in self._enclosed()
        chosen = self._chosen(path)
        if chosen is None:
            return self.draft.value(path)
        exercise = self.exercises[chosen.exercise]
        if chosen.what == "title":
            return exercise["title"]
        if chosen.what == "workshops":
            return chosen.which in exercise["workshops"]
        place = int(chosen.which)
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
        """Put what was typed into a field. Raises KeyError for a path that is none of `fields`.

        What is chosen from a list keeps what stands there when something else is typed.
        """
        chosen, field = self._chosen(path), self.field(path)
        if (sensor := self._sensor(path)) is not None:
            if read_typed(text, field) is not self.value(path):
                self._enclose(sensor)
        elif chosen is None:
            self.draft = self.draft.set(path, text)
            if path == "language":
                self._speak(text)
        elif chosen.what == "workshops":
            if read_typed(text, field) is not self.value(path):
                self._toggle_workshop(chosen)
        elif text in field.choices:
            self._choose(chosen, text)

    def step(self, path: str, by: int) -> None:
        """One step up or down; choices, flags and patterns go round. Raises KeyError."""
        field = self.field(path)
        chosen = self._chosen(path)
        if (sensor := self._sensor(path)) is not None:
            self._enclose(sensor)
        elif chosen is not None and chosen.what == "workshops":
            self._toggle_workshop(chosen)
        elif chosen is not None:
            now = self.value(path)
            here = field.choices.index(now) if now in field.choices else -1
            self._choose(chosen, field.choices[(here + by) % len(field.choices)])
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
        order = self.draft.prescription
        if order is None:
            return self.draft.faults
        return tuple(replace(fault, key_path=dotted(fault.key_path)) for fault in workshop_faults(order))

    def fault_of(self, path: str) -> Fault | None:
        """The first fault of this field."""
        return next((fault for fault in self.faults() if _belongs(fault, path)), None)

    def faults_of(self, section: Section) -> tuple[Fault, ...]:
        """All faults of a section, also those that belong to none of its fields."""
        return tuple(fault for fault in self.faults() if self._section_key(fault.key_path) == section.key)

    def loose_faults(self, section: Section) -> tuple[Fault, ...]:
        """Faults of a section that no field shows."""
        paths = [field.key_path for field in section.fields]
        return tuple(fault for fault in self.faults_of(section) if not any(_belongs(fault, path) for path in paths))

    def _section_key(self, path: str) -> str:
        first, _, rest = path.partition(".")
        if first == "exercises" and rest:
            return f"exercise:{rest.partition('.')[0]}"
        if first in ("limits", "retest"):
            return "calibration"
        return first if first in ("stop", "ceilings", "calibration", "muscles") else "order"

    # -- inside

    def _chosen(self, path: str) -> _Chosen | None:
        """What of an exercise is chosen from what is offered, rather than set in the draft; None for any other path."""
        parts = path.split(".")
        if parts[0] != "exercises" or len(parts) < 3 or parts[2] not in ("title", "muscles", "workshops"):
            return None
        if not parts[1].isdecimal() or int(parts[1]) >= len(self.exercises):
            raise KeyError(path)
        return _Chosen(int(parts[1]), parts[2], parts[-1])

    def _sensor(self, path: str) -> EnclosedSensor | None:
        """The description that a field encloses; None for any other field. Raises KeyError for
        one that nobody knows."""
        table, _, name = path.partition(".")
        return self._sensors[name] if table == "sensors" else None

    def _enclosed(self) -> dict[str, Mapping[str, Any]]:
        return {one["id"]: one for one in self.draft.document.get("sensors") or ()}

    def _enclose(self, sensor: EnclosedSensor) -> None:
        """Let its description go with the order, or no longer; another one of the same name is replaced."""
        kept = self._enclosed()
        if sensor.id not in kept:
            self.draft = self.draft.with_sensors([sensor])
            return
        del kept[sensor.id]
        self._change(sensors=tuple(kept.values()) or None)

    def _choose(self, chosen: _Chosen, value: str) -> None:
        exercise = self.exercises[chosen.exercise]
        if chosen.what == "title":
            self._change_exercise(chosen.exercise, title=value)
        else:
            place = int(chosen.which)
            muscles = list(exercise["muscles"]) + [value] * (place + 1 - len(exercise["muscles"]))
            muscles[place] = value
            self._change_exercise(chosen.exercise, muscles=tuple(muscles))

    def _toggle_workshop(self, chosen: _Chosen) -> None:
        """Let the patient choose it, or no longer; the last one stays."""
        exercise = self.exercises[chosen.exercise]
        wanted = set(exercise["workshops"]) ^ {chosen.which}
        listed = tuple(name for name in fitting(exercise["kind"]) if name in wanted)
        self._change_exercise(chosen.exercise, workshops=listed or exercise["workshops"])

    def _change_exercise(self, number: int, **changed: Any) -> None:
        exercises = list(self.exercises)
        exercises[number] = {**exercises[number], **changed}
        self._change(exercises=tuple(exercises))

    def _change(self, **tables: Any) -> None:
        self.draft = replace(self.draft, document={**self.draft.document, **tables})


def _belongs(fault: Fault, path: str) -> bool:
    """Whether a fault is this field's: its own, or that of an entry in its list."""
    return fault.key_path == path or (
        fault.key_path.startswith(f"{path}.") and path.rpartition(".")[2] in ("days", "pattern")
    )
