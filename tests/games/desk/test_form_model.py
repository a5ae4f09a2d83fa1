"""The form without a window: every field can be set and stepped, nothing is lost, nothing takes
a person's particulars."""

from __future__ import annotations

import importlib.resources
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from musclewood.games.desk.base.entry import CODE, VALUE, Edit, Entry, code_of
from musclewood.games.desk.form import offered
from musclewood.games.desk.form.model import FormModel
from musclewood.games.home.own_sensors import described_in
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.exercises import KINDS
from musclewood.profiles.orders.prescription import dump, parse
from musclewood.profiles.orders.templates import template, template_names

SHIPPED = importlib.resources.files("musclewood.assets").joinpath("sensors")
DAY = date(2026, 11, 25)


def form(name: str = "co-contracting-hamstring") -> FormModel:
    return FormModel(Draft.of(template(name), template(name)))


@pytest.mark.parametrize("name", template_names())
def test_every_dose_parameter_has_a_field(name: str) -> None:
    """Every number, day, date and choice of the file can be reached from the form."""
    model = form(name)
    paths = {field.key_path for field in model.fields()}

    def leaves(table: object, path: str) -> set[str]:
        if isinstance(table, dict):
            return {one for key, value in table.items() for one in leaves(value, f"{path}.{key}" if path else key)}
        if isinstance(table, list | tuple) and table and isinstance(table[0], dict):
            return {one for number, value in enumerate(table) for one in leaves(value, f"{path}.{number}")}
        return {path}

    fixed = {"format", "patient", "clinic", "note", "revision", "issued", "timezone", "acknowledged", "sensors"}
    for path in leaves(dict(model.draft.document), ""):
        last = path.rpartition(".")[2]
        if last == "asks" and not KINDS[model.exercises[int(path.split(".")[1])]["kind"]].traits.open_above:
            continue
        if (
            path in fixed
            or path.startswith("description.")
            or last in ("id", "kind", "workshops", "note", "name", "placement")
        ):
            continue
        if path == "limits":
            assert {"limits.operation", "limits.angle_from_deg"} <= paths
        elif path == "retest":
            assert "retest.test" in paths
        elif last == "muscles":
            assert f"{path}.0" in paths
        else:
            assert path in paths, path


def test_every_field_has_a_name_in_every_language() -> None:
    from musclewood.games.desk.form.cells import name_of, range_of, shown_value

    for language in LANGUAGES:
        words = Words(language)
        for name in template_names():
            model = form(name)
            for field in model.fields():
                assert name_of(words, field)
                assert shown_value(model, words, field)
                range_of(words, field)


def differing(one: Any, other: Any, path: str = "") -> Iterator[str]:
    """The key paths at which two documents differ."""
    if isinstance(one, dict) and isinstance(other, dict):
        for key in one.keys() | other.keys():
            yield from differing(one.get(key), other.get(key), f"{path}.{key}".removeprefix("."))
    elif isinstance(one, list | tuple) and isinstance(other, list | tuple) and len(one) == len(other):
        for a, b in zip(one, other, strict=True):
            yield from differing(a, b, path)
    elif one != other:
        yield path


@given(steps=st.lists(st.tuples(st.integers(0, 10_000), st.sampled_from([-5, -1, 1, 5])), max_size=12))
@settings(max_examples=8, deadline=None)
def test_steps_alone_never_leave_a_field_outside_its_own_range(steps: list[tuple[int, int]]) -> None:
    model = form()
    for place, by in steps:
        fields = model.fields()
        field = fields[place % len(fields)]
        model.step(field.key_path, by)
        value = model.value(field.key_path)
        if field.kind in ("whole", "number") and value is not None:
            assert field.low is None or value >= field.low
            assert field.high is None or value <= field.high
        if field.kind == "choice":
            assert value in field.choices or (value is None and field.optional)
    order = model.prescription
    if order is not None:
        again = parse(dump(order))
        measured = order.calibration.reference  # another choice of it makes these two meaningless
        without_meaning = {"calibration.share"} if measured != "comfortable" else set()
        without_meaning |= {"calibration.task"} if measured == "maximum" else set()
        assert set(differing(order.model_dump(), again.model_dump())) <= without_meaning


@given(place=st.integers(0, 10_000), text=st.text(max_size=30))
@settings(max_examples=15, deadline=None)
def test_whatever_is_typed_is_kept_or_refused_and_never_breaks(place: int, text: str) -> None:
    model = form()
    fields = model.fields()
    path = fields[place % len(fields)].key_path
    model.set(path, text)
    model.text(path)
    assert (model.prescription is None) == bool(model.faults())
    for fault in model.faults():
        assert fault.problem and fault.remedy


def test_a_fault_is_shown_at_its_field_and_in_its_section() -> None:
    model = form()
    model.set("exercises.0.effort.target_pct_mvc", "250")
    assert model.fault_of("exercises.0.effort.target_pct_mvc")
    assert model.fault_of("exercises.0.effort.min_pct_mvc") is None
    section = next(one for one in model.sections() if one.key == "exercise:0")
    assert model.faults_of(section) and not model.loose_faults(section)
    assert model.draft.preview() is None


def test_a_ceiling_that_is_too_low_is_a_fault_of_the_ceilings() -> None:
    model = form()
    model.set("ceilings.reps_per_day", "3")
    section = next(one for one in model.sections() if one.key == "ceilings")
    assert [fault.key_path for fault in model.faults_of(section)] == ["ceilings.reps_per_day"]


def test_the_preview_follows_every_step() -> None:
    model = form()
    before = model.draft.preview()
    model.step("exercises.0.reps", 1)
    after = model.draft.preview()
    assert before and after
    assert after.reps_a_day == before.reps_a_day + model.value("exercises.0.sets") * model.value("sessions_per_day")


@pytest.mark.parametrize("kind", offered.OFFERED_KINDS)
@pytest.mark.parametrize("language", LANGUAGES)
def test_an_exercise_of_each_kind_can_be_added_and_removed(kind: str, language: str) -> None:
    model = form()
    model.set("language", language)
    number = model.add_exercise(kind)
    for name in ("reps_per_day", "reps_per_week", "minutes_per_day"):
        model.set(
            f"ceilings.{name}", {"reps_per_day": "2000", "reps_per_week": "10000", "minutes_per_day": "240"}[name]
        )
    assert model.faults() == ()
    assert model.prescription and model.prescription.exercises[number].kind == kind
    model.remove_exercise(number)
    assert len(model.exercises) == number


def test_one_muscle_is_too_few_for_two_and_another_mends_it() -> None:
    model = form("weak-thigh-after-knee-operation")
    while len(model.muscles) > 1:
        model.remove_muscle(1)
    number = model.add_exercise("selective")
    section = next(one for one in model.sections() if one.number == number)
    assert model.loose_faults(section)
    model.add_muscle(next(one for one in offered.known_muscles() if one.key == "biceps-femoris"))
    model.step(f"exercises.{number}.muscles.1", 1)
    model.step(f"exercises.{number}.muscles.1", 1)
    assert not model.loose_faults(section)
    assert len({muscle["channel"] for muscle in model.muscles}) == 2


def test_eight_muscles_of_any_sort_keep_ids_and_channels_apart() -> None:
    model = form("weak-thigh-after-knee-operation")
    for known in offered.known_muscles()[:4]:
        model.add_muscle(known)
        if len(model.muscles) < 8:
            model.add_muscle(known)
    ids = [muscle["id"] for muscle in model.muscles]
    assert len(set(ids)) == len(ids)
    assert not [fault for fault in model.faults() if fault.key_path.startswith("muscles")]


def test_titles_and_places_follow_the_language_of_the_patient() -> None:
    model = form()
    model.set("language", "de")
    assert model.exercises[0]["title"] == "Vorne anspannen, hinten ruhig lassen"
    assert model.muscles[0]["placement"].startswith("Bei ")
    model.set("language", "en")
    assert model.draft.document == form().draft.document


def test_every_template_is_said_in_every_language() -> None:
    """Titles and places of a template are among what is offered, and so are translated."""
    for name in template_names():
        order = template(name)
        for exercise in order.exercises:
            assert exercise.title in offered.titles(exercise.kind, "en", "")[1:], f"{name}: {exercise.title}"
        known = {place for one in offered.known_muscles() for place in one.placements.values()}
        assert {muscle.placement for muscle in order.muscles} <= known, name


def test_patterns_go_round_and_can_be_typed() -> None:
    model = form()
    path = next(field.key_path for field in model.fields() if field.name == "pattern")
    for pattern in [*offered.PATTERNS, offered.PATTERNS[0]]:
        model.step(path, 1)
        assert model.prescription is not None, pattern
    model.set(path, "0.2 0.9, 0.4")
    assert model.value(path) == (0.2, 0.9, 0.4)


PARTICULARS = (
    "Maria Novak",
    "Novak",
    "1987-03-12",
    "12.3.1987",
    "Lindenweg 7",
    "Praha",
    "HB-1987",
    "novak@example.org",
)


@pytest.mark.parametrize("text", PARTICULARS)
def test_no_field_keeps_a_name_a_birth_date_or_a_place(text: str, full: bool) -> None:
    """Whatever is typed anywhere either shows as a fault or is not taken: no order with it can be issued."""
    start = PARTICULARS.index(text)  # together they go over all fields; the full size takes each to all
    for field in form().fields()[::1] if full else form().fields()[start :: len(PARTICULARS)]:
        model = form()
        model.set(field.key_path, text)
        order = model.prescription
        kept_as_date = field.kind == "date" and order is None
        assert order is None or text not in dump(order) or kept_as_date, field.key_path


def test_the_code_line_takes_codes_and_nothing_else() -> None:
    line = Entry(CODE, 9)
    assert line.type("hb0042") and code_of(line.text) == "HB-0042"
    for wrong in ("Novak", "1987", "12.3.", "HB 42", "maria@", "HB-00421x"):
        line.clear()
        assert not line.type(wrong) or not all(line.type(letter) for letter in wrong[1:]), wrong
    assert code_of("abcd-12345") == "ABCD-12345"


def test_a_masked_line_shows_no_letter() -> None:
    line = Entry(r".*", 50, masked=True)
    line.type("secret words")
    assert set(line.shown) == {"•"} and "secret" not in repr(line)
    line.do(Edit("erase"))
    assert line.text == "secret word"
    assert not Entry(VALUE).type("ü")


def test_a_sensor_goes_with_the_order_at_a_press(tmp_path: Path) -> None:
    """What lies in the clinic's folder is offered, what the last order carried too; a file with mistakes is not."""
    for name in ("two-channel-raw", "one-channel-envelope"):
        (tmp_path / f"{name}.toml").write_text(SHIPPED.joinpath(f"{name}.toml").read_text("utf-8"), "utf-8")
    (tmp_path / "broken.toml").write_text("name = 1")
    offered_here = described_in(tmp_path)
    order = template("co-contracting-hamstring")
    model = FormModel(Draft.of(order, order), offered_here)
    paths = [field.key_path for field in model.sections()[0].fields if field.group == "sensors"]
    assert paths == ["sensors.one-channel-envelope", "sensors.two-channel-raw"]
    assert model.text(paths[1]) == "off" and not model.touched
    model.step(paths[1], 1)
    model.set(paths[0], "on")
    model.set(paths[0], "on")
    order = model.prescription
    assert order is not None and [one.id for one in order.sensors or ()] == ["two-channel-raw", "one-channel-envelope"]
    assert order.sensors is not None and order.sensors[0].text == (tmp_path / "two-channel-raw.toml").read_text("utf-8")
    later = FormModel(Draft.of(order, order))  # on another computer of the clinic: what went along stays
    assert later.text("sensors.two-channel-raw") == "on"
    later.step("sensors.two-channel-raw", 1)
    later.set("sensors.one-channel-envelope", "off")
    assert later.prescription is not None and later.prescription.sensors is None
