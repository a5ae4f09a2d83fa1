"""An order in the making: stepping, typing, faults beside their fields, and the difference in words."""

from __future__ import annotations

from datetime import date

import pytest
from musclewood.profiles.orders.difference import difference
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template, template_names


@pytest.fixture
def draft(knee: Prescription) -> Draft:
    return Draft.of(knee, knee)


@pytest.mark.parametrize("name", template_names())
def test_every_number_of_an_order_is_a_field_and_a_step_there_and_back_changes_nothing(name: str) -> None:
    order = template(name)
    draft = Draft.of(order, order)
    assert draft.prescription == order
    assert draft.difference() == []
    stepped = 0
    for field in draft.fields():
        value = draft.value(field.key_path)
        if field.kind in ("whole", "number") and value is not None and value % (field.step or 1) == 0:
            up = draft.step(field.key_path, 1)
            if up.value(field.key_path) != value:
                assert up.step(field.key_path, -1).value(field.key_path) == value, field
                stepped += 1
    assert stepped > 20


def test_a_form_has_no_field_for_free_text_and_so_none_for_a_name(draft: Draft) -> None:
    assert {field.kind for field in draft.fields()} <= {
        "whole",
        "number",
        "choice",
        "days",
        "date",
        "flag",
        "numbers",
        "names",
    }
    for unknown in ("patient", "note", "exercises.0.title", "description.provider", "clinic"):
        with pytest.raises(KeyError):
            draft.set(unknown, "Anna")


def test_typed_values_are_read_as_a_person_writes_them(draft: Draft) -> None:
    changed = (
        draft.set("exercises.0.reps", " 8 ")
        .set("exercises.0.effort.target_pct_mvc", "33,5")
        .set("days", "mon, wed fri")
        .set("expires", "2027-01-31")
        .set("record_samples", "on")
        .set("exercises.2.pattern", "0.2 0.8 0.4")
    )
    assert changed.faults == ()
    order = changed.prescription
    assert order is not None
    assert (order.exercises[0].reps, order.exercises[0].effort.target_pct_mvc) == (8, 33.5)
    assert (order.days, order.expires, order.record_samples) == (("mon", "wed", "fri"), date(2027, 1, 31), True)
    assert draft.value("expires") is None, "the draft it came from is untouched"


def test_what_makes_no_sense_is_kept_and_named_beside_its_field(draft: Draft) -> None:
    wrong = (
        draft.set("exercises.0.reps", "many").set("stop.pain_stop", "12").set("exercises.1.effort.max_pct_mvc", 95.0)
    )
    assert wrong.prescription is None
    assert wrong.preview() is None
    assert wrong.value("exercises.0.reps") == "many"
    assert {fault.key_path for fault in wrong.faults} >= {
        "exercises.0.reps", "stop.pain_stop", "exercises.1.effort.max_pct_mvc",
    }  # fmt: skip


def test_steps_stay_in_range_and_fall_on_whole_steps(draft: Draft) -> None:
    assert draft.step("stop.pain_stop", 20).value("stop.pain_stop") == 10
    uneven = draft.set("exercises.0.effort.target_pct_mvc", 33.5)
    assert uneven.step("exercises.0.effort.target_pct_mvc", 1).value("exercises.0.effort.target_pct_mvc") == 34.0
    assert uneven.step("exercises.0.effort.target_pct_mvc", -1).value("exercises.0.effort.target_pct_mvc") == 33.0
    assert draft.step("muscles.0.side", 1).value("muscles.0.side") == "right"
    assert draft.step("review", 7).value("review") == date(2026, 12, 23)


def test_exercises_can_be_taken_out_and_put_back(draft: Draft) -> None:
    table = draft.document["exercises"][1]
    without = draft.without(1)
    assert without.difference()[0] == "No more: Tighten briskly, let go fully."
    assert without.with_exercise(table).difference() == [
        (
            "The order of the exercises is now: Tighten the thigh and hold, Follow the slow wave, Tighten "
            "briskly, let go fully."
        )
    ]


def test_the_preview_says_what_a_day_asks(draft: Draft) -> None:
    preview = draft.set("exercises.0.reps", 5).preview()
    assert preview is not None
    assert (preview.reps_a_day, preview.sessions_a_day, preview.days_a_week) == (34, 1, 5)
    assert preview.minutes_a_day > 1.5 * sum(minutes for _, _, minutes in preview.by_exercise), (
        "calibration and breaks too"
    )
    assert preview.sentence == "A day: 34 repetitions in 1 session, about 12 minutes, on 5 days a week."


def test_every_change_is_a_sentence(draft: Draft, knee: Prescription) -> None:
    changed = (
        draft.set("exercises.0.reps", 8)
        .set("exercises.0.effort.target_pct_mvc", 40)
        .set("days", "mon wed fri")
        .set("stop.pain_stop", 4)
        .set("muscles.0.side", "right")
        .set("exercises.1.scaling.on", "off")
        .set("expires", "2027-01-31")
    )
    assert changed.difference() == [
        "Tighten the thigh and hold: repetitions a set down from 10 to 8.",
        "Tighten the thigh and hold: effort up from 35 to 40 %MVC.",
        "Tighten briskly, let go fully: automatic scaling off instead of on.",
        "Days: mon wed fri instead of mon tue thu fri sat.",
        "Last day 2027-01-31 instead of none.",
        "Stop rules: pain at which a session ends down from 5 to 4 of 10.",
        "Vastus medialis: side right instead of left.",
        (
            "A day: 40 repetitions in 1 session, about 14 minutes, on 3 days a week. "
            "Before: 44 repetitions in 1 session, about 14 minutes, on 5 days a week."
        ),
    ]
    assert difference(None, knee)[0] == "This is the first order for HB-0042."
