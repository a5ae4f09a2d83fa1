"""Each kind is specified once, completely, and nothing that a therapist orders is lost on its way to the judge.

The way: order -> planned exercise -> aim -> view and judged repetition -> record.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any, Literal, get_args

import pytest
from musclewood.games.desk.form.model import FormModel
from musclewood.games.engine.judging import Aim, aim_of
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.rep_events import JudgedRep, Reading, RepMade
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.stages import rep_record
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.games.workshops import fitting
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.orders import exercises
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.exercises import KINDS, AnyExercise, Effort, Traits
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan.dose import PlannedExercise, planned

# What of an order is no matter of one repetition: words, scaling's room, and what becomes `channels`.
FOR_OTHERS = {"id", "note", "muscles", "effort", "scaling", "min_pct_mvc", "max_pct_mvc"}


def one_of_each() -> tuple[Prescription, tuple[AnyExercise, ...]]:
    """An order with one exercise of every kind, as the desk offers it, for two muscles."""
    model = FormModel(Draft.of(template("co-contracting-hamstring")))
    first = len(model.exercises)
    for kind in KINDS:
        number = model.add_exercise(kind)
        model.set(f"exercises.{number}.sets", "1")
    for key, most in (("reps_per_day", "200"), ("reps_per_week", "1000"), ("minutes_per_day", "120")):
        model.set(f"ceilings.{key}", most)
    for _ in range(first):
        model.remove_exercise(0)
    assert model.prescription is not None, model.faults()
    return model.prescription, model.prescription.exercises


ORDER, EACH = one_of_each()


@pytest.mark.parametrize("name", KINDS)
def test_every_kind_is_whole(name: str) -> None:
    kind, model = OF_KIND[name], KINDS[name]
    assert get_args(model.model_fields["kind"].annotation) == (name,)
    assert len(kind.sketch.ways) == kind.traits.muscles
    assert fitting(name), "somewhere to play it"
    assert set(model.own_parameters()) <= kind.dose.keys(), "what the desk offers says all that is its own"
    for language in LANGUAGES:
        words = Words(language)
        keys = (kind.ready, kind.going, f"desk.kind.{name}", f"desk.kind.{name}-hint", f"desk.titles.{name}.a")
        assert all(words.has(key) for key in (*keys, *(f"desk.field.{own}" for own in model.own_parameters())))


@pytest.mark.parametrize("exercise", EACH, ids=lambda one: one.kind)
def test_everything_ordered_reaches_the_plan(exercise: AnyExercise) -> None:
    plan = planned(ORDER, exercise)
    ordered = {name: getattr(exercise, name) for name in type(exercise).model_fields}
    ordered |= {name: getattr(exercise.effort, name) for name in Effort.model_fields}
    for name, value in ordered.items():
        if name not in FOR_OTHERS:
            assert plan.own[name] == value if name in plan.own else getattr(plan, name) == value, name


@pytest.mark.parametrize("exercise", EACH, ids=lambda one: one.kind)
def test_every_parameter_has_a_field_at_the_desk(exercise: AnyExercise) -> None:
    number = EACH.index(exercise)
    paths = {field.key_path for field in Draft.of(ORDER).fields()}
    for name in exercise.own_parameters():
        assert f"exercises.{number}.{name}" in paths


# The figures of a plan that the aim takes, each with how it says them; the rest is the engine's own business.
TAKEN = {
    "target_pct_mvc": "target",
    "ceiling_pct_mvc": "ceiling",
    "quiet_pct_mvc": "quiet",
    "hold_s": "hold_s",
    "rise_s": "rise_s",
    "opposite_ceiling_pct_mvc": "opposite_ceiling",
    "difference_pct_mvc": "difference",
    "pattern": "pattern",
    "own": "own",
}
LED_BY_THE_ENGINE = {"kind", "channels", "sets", "reps", "rest_s", "set_rest_s", "most_attempts"}
NOT_FOR_THE_ENGINE = {"exercise_id", "title", "workshops", "fatigue_decline_pct"}


def test_every_field_of_a_plan_is_somebodys() -> None:
    """A new field is to be taken into the aim, or listed here on purpose."""
    known = (
        TAKEN.keys()
        | LED_BY_THE_ENGINE
        | NOT_FOR_THE_ENGINE
        | {"tolerance_pct_mvc", "start_s", "release_s", "asks", "results", "door_closed", "unseen_share", "sides"}
    )
    assert {field.name for field in fields(PlannedExercise)} <= known


def a_plan(**changes: Any) -> PlannedExercise:
    usual = PlannedExercise(
        "a", "hold", "A", ("kiln",), (0, 1), 1, 1, 2.0, 3.0, 4.0, 30.0, 6.0, 60.0, 7.0,
        opposite_ceiling_pct_mvc=13.0, difference_pct_mvc=17.0, rise_s=0.7, pattern=(0.3, 0.9), own={"beats": 3},
    )  # fmt: skip
    return replace(usual, **changes)


def test_every_figure_of_a_plan_reaches_the_aim_and_no_field_of_the_aim_is_left_out() -> None:
    plan = a_plan()
    aim = aim_of(plan, plan.target_pct_mvc)
    for planned_name, aim_name in TAKEN.items():
        value = getattr(plan, planned_name)
        wanted = value / 100 if planned_name.endswith("_pct_mvc") else value
        assert getattr(aim, aim_name) == pytest.approx(wanted) if isinstance(wanted, float) else wanted
    assert (aim.low, aim.high) == (pytest.approx(0.24), pytest.approx(0.36))
    bare = Aim(0.3, 0.24, 0.36, 0.6, 2.0, 0.07)
    unmoved = {field.name for field in fields(Aim) if getattr(aim, field.name) == getattr(bare, field.name)}
    assert unmoved <= {"target", "low", "high", "ceiling", "hold_s", "quiet", "release_s", "at_least"}


def test_what_a_kind_alone_orders_is_seen_by_its_judge_and_its_workshop() -> None:
    engine = RepEngine(a_plan(), 0.01)
    assert engine.view.own == {"beats": 3}


def test_every_figure_of_a_judged_rep_is_recorded() -> None:
    """Each field with a value of its own, so that two that were swapped would be seen."""
    values: dict[str, Any] = {field.name: float(number) for number, field in enumerate(fields(JudgedRep), start=1)}
    rep = JudgedRep(**{**values, "verdict": "counted", "effort_profile": (1.0, 2.0)})
    record = rep_record(RepMade(rep), a_plan(), "kiln")
    for field in fields(JudgedRep):
        assert getattr(record, field.name) == getattr(rep, field.name)
    own = {field.name for field in fields(RepRecord)} - {field.name for field in fields(JudgedRep)}
    assert own == {"exercise_id", "kind", "workshop"}
    assert (record.exercise_id, record.kind, record.workshop) == ("a", "hold", "kiln")


@pytest.mark.parametrize("name", KINDS)
def test_the_engine_goes_by_the_traits(name: str) -> None:
    traits = KINDS[name].traits
    plan = a_plan(kind=name, pattern=(0.5, 1.0) if name == "track" else None, channels=(0, 1)[: traits.muscles])
    engine = RepEngine(plan, 0.1)
    quiet = Reading((0.0,) * traits.muscles, (False,) * traits.muscles)
    for _ in range(30):
        engine.step(quiet)
    assert (engine.phase == "effort") == traits.begins_itself
    assert (engine.view.opposite is not None) == (traits.partner == "opposite")
    assert (engine.view.difference is not None) == (len(traits.trained) > 1)


def test_a_kind_without_its_traits_fails_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    class Bare(AnyExercise):
        kind: Literal["bare"]

    try:
        with pytest.raises(AttributeError, match="traits"):
            exercises._kinds(AnyExercise)
    finally:
        Bare.traits = Traits()  # other tests may ask for all kinds again
    with pytest.raises(ValueError, match="contradict"):
        Traits(muscles=2)
    with pytest.raises(ValueError, match="contradict"):
        Traits(trained=(0, 1))
