"""Several workshops for one kind: which an order may name, how the desk offers them, how the patient chooses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import musclewood.games.workshops as room
import pytest
from musclewood.games.desk.form.model import FormModel
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.games.workshops import workshops
from musclewood.games.workshops.ordered import in_workshops, playable, workshop_faults
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.prescription import Prescription, dump, parse
from musclewood.profiles.orders.templates import template, template_names
from musclewood.profiles.plan.dose import DayPlan, planned

TEMPLATE = "weak-thigh-after-knee-operation"  # its first exercise is a hold


@pytest.fixture
def two_for_a_hold(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[str, str]]:
    """Two places that play `hold`, one `quick`, and whatever there is for other kinds."""
    kiln = workshops()["kiln"]
    more = {"kiln": replace(kiln, kinds=("hold",)), "elsewhere": replace(kiln, name="elsewhere", kinds=("hold",))}
    rest = {name: one for name, one in workshops().items() if not {"hold", "quick"} & set(one.kinds)}
    pond = {"skimming_pond": workshops()["skimming_pond"]}
    monkeypatch.setattr(room, "workshops", lambda: {**rest, **pond, **more})
    yield "elsewhere", "kiln"


def ordered_in(*names: str) -> Prescription:
    order = template(TEMPLATE)
    first = order.exercises[0].model_copy(update={"workshops": names})
    others = [one.model_copy(update={"workshops": one.workshops[:1]}) for one in order.exercises[1:]]
    return order.model_copy(update={"exercises": (first, *others)})


@pytest.mark.parametrize("name", template_names())
def test_templates_name_workshops_that_fit(name: str) -> None:
    assert workshop_faults(template(name)) == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_workshop_has_its_words(language: str) -> None:
    words = Words(language)
    for name in workshops():
        assert words.has(f"place.{name}") and words.has(f"today.ask.{name}") and words.has(f"desk.workshop.{name}")


def test_an_unknown_and_an_unfit_workshop_are_faults_with_their_place_and_remedy() -> None:
    unfit, unknown = workshop_faults(ordered_in("loom", "bakery"))
    assert unfit.key_path == "exercises[0].workshops[0]" and "does not play a 'hold'" in unfit.problem
    assert unknown.key_path == "exercises[0].workshops[1]" and "no workshop 'bakery'" in unknown.problem
    assert "'kiln'" in unfit.remedy


def test_an_order_of_a_later_desk_is_played_in_what_is_here() -> None:
    """Dose and verdicts are the same in every workshop, so a patient need not go without (our choice)."""
    order = ordered_in("bakery", "kiln")
    plan = DayPlan(date(2026, 11, 25), tuple(planned(order, one) for one in order.exercises))
    assert in_workshops(plan).exercises[0].workshops == ("kiln",)
    assert "kiln" in playable("hold", ("bakery",))
    assert replace(in_workshops(plan).exercises[0], workshops=()) == replace(plan.exercises[0], workshops=())


def test_the_desk_offers_all_that_fit_and_keeps_one(two_for_a_hold: tuple[str, str]) -> None:
    model = FormModel(Draft.of(ordered_in("kiln")))
    paths = [f"exercises.0.workshops.{name}" for name in two_for_a_hold]
    assert [model.value(path) for path in paths] == [False, True]
    model.step(paths[0], 1)
    assert [model.value(path) for path in paths] == [True, True] and model.faults() == ()
    order = model.prescription
    assert order is not None and set(order.exercises[0].workshops) == {"kiln", "elsewhere"}
    assert parse(dump(order)) == order
    model.set(paths[1], "off")
    model.step(paths[0], 1)
    assert [model.value(path) for path in paths] == [True, False], "the last one stays"
    assert not any(".workshops." in field.key_path for field in model.fields() if field.group == "exercise 1")


def test_a_new_exercise_leaves_the_choice_to_the_patient(two_for_a_hold: tuple[str, str]) -> None:
    model = FormModel(Draft.of(template(TEMPLATE)))
    number = model.add_exercise("hold")
    assert set(model.exercises[number]["workshops"]) == set(two_for_a_hold)


def test_the_form_shows_a_workshop_that_does_not_fit() -> None:
    model = FormModel(Draft.of(ordered_in("loom")))
    assert [fault.key_path for fault in model.faults()] == ["exercises.0.workshops.0"]
    assert model.prescription is None


def test_workshops_are_set_by_key_at_the_desk() -> None:
    draft = Draft.of(template(TEMPLATE)).set("exercises.0.workshops", "kiln elsewhere")
    assert draft.prescription is not None and draft.prescription.exercises[0].workshops == ("kiln", "elsewhere")
    assert any("workshops kiln elsewhere" in line for line in Draft(draft.document, template(TEMPLATE)).difference())
