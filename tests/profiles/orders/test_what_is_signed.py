"""Whatever acts on the patient is among the facts that are shown before signing; what is unusual is asked about once
more."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from importlib.resources import files
from typing import Any

import pytest
from musclewood.assets.saying import catalogue
from musclewood.games.desk.form.facts_told import concern_told, facts_told
from musclewood.games.kit.words import Words
from musclewood.profiles.clinic.drafts import from_template
from musclewood.profiles.clinic.settings import DeskSettings
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.exercises import Table
from musclewood.profiles.orders.facts import NOT_ACTING, facts, in_words
from musclewood.profiles.orders.prescription import Prescription, dump, parse
from musclewood.profiles.orders.tables import Limits
from musclewood.profiles.orders.templates import template, template_names
from musclewood.profiles.orders.usual_practice import Concern, concerns

TODAY = date(2026, 11, 25)


def leaves(value: Any, place: str = "") -> Iterator[tuple[str, Any]]:
    """Every single value of an order with its key path."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from leaves(inner, f"{place}.{key}" if place else key)
    elif isinstance(value, list | tuple) and value and isinstance(value[0], Mapping):
        for number, inner in enumerate(value):
            yield from leaves(inner, f"{place}.{number}")
    else:
        yield place, value


@pytest.mark.parametrize("name", template_names())
def test_nothing_that_acts_on_the_patient_can_be_signed_unseen(name: str) -> None:
    order = template(name).model_copy(update={"limits": Limits(operation="meniscus-repair", weeks_since=3)})
    seen = {f"{fact.place}.{key}" if fact.place else key for fact in facts(order) for key, _ in fact.entries}
    for path, _ in leaves(order.model_dump()):
        if path.split(".")[0] in NOT_ACTING or path.endswith(".id"):
            continue
        # A title or a muscle's name leads every line of its table.
        assert path in seen or path.rpartition(".")[2] in ("title", "name"), path


def test_a_parameter_added_tomorrow_is_shown_too() -> None:
    class Tomorrow(Prescription):
        warmth: Table | None = None
        strength: float = 3.0

    order = Tomorrow.model_validate(template("ankle-after-sprain").model_dump())
    assert any(("strength", 3.0) in fact.entries for fact in facts(order))


@pytest.mark.parametrize("language", ["en", "de"])
def test_both_languages_show_every_line_and_the_side(language: str) -> None:
    order = template("ankle-after-sprain")
    told = facts_told(Words(language), order)
    assert len(told) == len(facts(order))
    text = " ".join(told)
    for figure in ("40 %MVC", "75 %MVC", "60 s", "100", "450", "25 min", "links" if language == "de" else "left"):
        assert figure in text
    if language == "en":
        assert told == [in_words(fact) for fact in facts(order)]
    else:
        assert not any(english in text for english in ("effort", "rest ", "left", "none"))


def test_a_template_has_no_side_until_it_is_chosen() -> None:
    for name in template_names():
        draft = from_template(name, "HB-0042", (), DeskSettings(), TODAY)
        assert draft.prescription is None
        assert {fault.key_path for fault in draft.faults} == {
            f"muscles.{number}.side" for number in range(len(draft.document["muscles"]))
        }
        assert not any(side in str(one["id"]) for one in draft.document["muscles"] for side in ("left", "right"))
        right = draft.set("muscles.0.side", "right").prescription
        assert right is not None
        for muscle in right.muscles:
            assert muscle.side == ("left" if muscle.role == "uninvolved" else "right")


def changed(**values: Any) -> Draft:
    draft = from_template("weak-thigh-after-knee-operation", "HB-0042", (), DeskSettings(), TODAY)
    draft = draft.set("muscles.0.side", "left")
    for path, value in values.items():
        draft = draft.set(path.replace("__", "."), value)
    return draft


def test_templates_are_usual() -> None:
    assert changed().concerns() == ()
    for name in template_names():
        assert concerns(template(name)) == ()


UNUSUAL = {
    "pain-stop": {"stop__pain_stop": 10},
    "hold": {"exercises__0__effort__max_pct_mvc": 65.0, "exercises__0__hold_s": 11.0, "exercises__0__rest_s": 11.0,
             "exercises__0__scaling__rest_max_s": None, "exercises__0__effort__ceiling_pct_mvc": 80.0},
    "rest": {"exercises__0__rest_s": 3.0},
    "set-rest": {"exercises__0__set_rest_s": 20.0},
    "trials": {"calibration__trials": 4},
    "maxima": {"sessions_per_day": 2, "ceilings__reps_per_week": 900, "ceilings__reps_per_day": 200,
               "ceilings__minutes_per_day": 60.0, "ceilings__sessions_per_week": 14},
    "acl-angle": {"limits__operation": "acl-reconstruction", "limits__weeks_since": 4, "limits__angle_from_deg": 10},
    "pain-graft": {"limits__graft": "hamstring"},
    "fresh": {"limits__operation": "knee-replacement", "limits__weeks_since": 1},
}  # fmt: skip


@pytest.mark.parametrize("key", UNUSUAL)
def test_what_is_outside_usual_practice_is_said_with_its_source(key: str) -> None:
    draft = changed(**UNUSUAL[key])
    assert not draft.faults
    found = {one.key: one for one in draft.concerns()}
    assert key in found and not found[key].refused
    assert "(" in found[key].sentence() and "{" not in found[key].sentence()


def test_sixty_seconds_at_full_effort_with_six_of_rest_are_refused() -> None:
    draft = changed(exercises__0__effort__max_pct_mvc=100.0, exercises__0__effort__ceiling_pct_mvc=120.0,
                    exercises__0__hold_s=60.0, ceilings__minutes_per_day=240.0)  # fmt: skip
    assert draft.prescription is None
    assert any("blood pressure" in fault.problem for fault in draft.faults)
    assert any("less than half" in fault.problem for fault in draft.faults)


def times(name: str, more: int, **changes: Any) -> Prescription:
    order = template(name)
    exercises = tuple(one.model_copy(update={"sets": one.sets * more}) for one in order.exercises)
    return order.model_copy(update={"exercises": exercises, **changes})


@pytest.mark.parametrize(
    ("name", "more", "with_group", "without"),
    [
        ("face-after-palsy", 3, "reps-face", ""),
        ("wrist-after-stroke", 4, "", "reps"),
        ("wrist-after-stroke", 7, "reps-stroke", "reps"),
        ("foot-of-a-child", 2, "minutes-child", ""),
    ],
)
def test_groups_have_usual_doses_of_their_own(name: str, more: int, with_group: str, without: str) -> None:
    """Stroke: 100 to 300 repetitions a session (Lang 2016, second-hand). Face and child: our choice."""
    for limits, wanted in ((template(name).limits, with_group), (None, without)):
        found = [one.key for one in concerns(times(name, more, limits=limits)) if not one.exercise]
        kind = "minutes" if name == "foot-of-a-child" else "reps"
        assert [key for key in found if key.startswith(kind)] == ([wanted] if wanted else [])


@pytest.mark.parametrize(("name", "refused"), [("face-after-palsy", True), ("foot-of-a-child", False)])
def test_a_maximum_of_a_face_or_a_child_is_asked_about(name: str, refused: bool) -> None:
    calibration = template(name).calibration.model_copy(update={"reference": "maximum", "task": None, "share": None})
    (found,) = [one for one in concerns(times(name, 1, calibration=calibration)) if one.key.startswith("maximum-")]
    assert found.refused is refused and found.sentence()


def test_a_leap_within_a_week_is_asked_about_and_a_greater_one_refused() -> None:
    order = template("weak-thigh-after-knee-operation")
    for more, refused in ((11.0, False), (21.0, True)):
        hold = order.exercises[0]
        effort = hold.effort.model_copy(
            update={"target_pct_mvc": hold.effort.target_pct_mvc + more, "max_pct_mvc": 60.0}
        )
        later = order.model_copy(
            update={"issued": order.issued + timedelta(days=5),
                    "exercises": (hold.model_copy(update={"effort": effort}), *order.exercises[1:])}
        )  # fmt: skip
        (found,) = [one for one in concerns(later, order) if one.key == "step"]
        assert found.refused is refused
        long_after = later.model_copy(update={"issued": order.issued + timedelta(days=20)})
        assert not [one for one in concerns(long_after, order) if one.key == "step"]


def test_the_desk_says_each_concern_in_both_languages() -> None:
    english, german = Words("en"), Words("de")
    values = dict.fromkeys(
        [
            "reps",
            "minutes",
            "title",
            "hold",
            "effort",
            "rest",
            "points",
            "day",
            "trials",
            "times",
            "pain",
            "low",
            "high",
            "week",
        ],
        "7",
    )
    for key in (one.removeprefix("desk.concern.") for one in catalogue("en") if one.startswith("desk.concern.")):
        concern = Concern(key, values=values)
        assert concern_told(english, concern) == concern.sentence() != concern_told(german, concern)
        for words in (english, german):  # the report says the same
            report = tomllib.loads(
                (files("musclewood.assets") / "report" / f"{words.language}.toml").read_text("utf-8")
            )
            assert report["unusual"][key].format(**values) == concern_told(words, concern)


def test_what_was_acknowledged_stands_in_the_file_and_older_files_have_no_such_key() -> None:
    order = template("weak-thigh-after-knee-operation")
    assert "acknowledged" not in dump(order) and "limits" not in dump(order)
    meant = order.model_copy(update={"acknowledged": ("pain-stop", "rest:thigh-hold")})
    assert parse(dump(meant)).acknowledged == ("pain-stop", "rest:thigh-hold")
