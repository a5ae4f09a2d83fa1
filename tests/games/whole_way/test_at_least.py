"""'At least' from the order to the report: a goal with no upper edge but the effort ceiling.

Training a muscle to wake up asks for as much as one can above a goal (common practice, no source); that the ceiling
stays, and how much room must lie below it, is our choice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import tomli_w
from musclewood.games.desk.form.model import FormModel
from musclewood.games.engine.players import Player
from musclewood.games.engine.rep_events import Reading, RepMade, RepMissed
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.session_events import SessionView
from musclewood.games.gallery.evenings import OF_EACH_KIND
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.games.screens.session.sayings import sentence_of
from musclewood.games.workshops import fitting, workshops
from musclewood.profiles.errors import PrescriptionError
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RepRecord, SessionEnd, SessionStart
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.exercises import KINDS, asked_of
from musclewood.profiles.orders.prescription import dump, parse
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan.dose import PlannedExercise, planned
from musclewood.profiles.plan.safety import Restraint
from musclewood.profiles.plan.scaling import scale
from musclewood.profiles.report import figures
from musclewood.profiles.report.page import render_report

STEP_S = 0.02
TEMPLATE = "weak-thigh-after-knee-operation"
EFFORT = {"target_pct_mvc": 30.0, "min_pct_mvc": 20.0, "max_pct_mvc": 45.0, "ceiling_pct_mvc": 70.0}
OPEN = [name for name, model in KINDS.items() if model.traits.open_above]


def text_of(**effort: Any) -> str:
    order = template(TEMPLATE).model_dump(exclude_none=True)
    order["exercises"][0]["effort"] |= {**EFFORT, "asks": "at least", **effort}
    return tomli_w.dumps(order)


def at_least(kind: str = "hold") -> PlannedExercise:
    return replace(OF_EACH_KIND[kind], asks="at least", tolerance_pct_mvc=0.0)


def test_an_order_asks_for_it_and_others_stay_as_they_were() -> None:
    order = parse(text_of())
    assert order.exercises[0].effort.at_least and asked_of(order.exercises[0]) == "at least 30"
    assert parse(dump(order)) == order
    assert "asks" not in dump(template(TEMPLATE)), "what earlier programs read holds no key that they do not know"
    assert dump(order).count("asks") == 1, "and they refuse an order that has it, as any unknown key"


@pytest.mark.parametrize(
    ("effort", "place"),
    [({"max_pct_mvc": 61.0}, "max_pct_mvc"), ({"min_pct_mvc": 8.0}, "min_pct_mvc"), ({"asks": "most"}, "asks")],
)
def test_a_goal_without_room_is_a_fault(effort: dict[str, Any], place: str) -> None:
    with pytest.raises(PrescriptionError) as caught:
        parse(text_of(**effort))
    assert any(fault.key_path.endswith(f"effort.{place}") for fault in caught.value.faults)


@pytest.mark.parametrize("kind", sorted(set(KINDS) - set(OPEN)))
def test_a_pattern_and_quiet_have_no_open_end(kind: str) -> None:
    order = template("wrist-after-stroke").model_dump(exclude_none=True)
    one = next(each for each in order["exercises"] if each["kind"] == kind)
    one["effort"]["asks"] = "at least"
    with pytest.raises(PrescriptionError, match=r"asks.*open end"):
        parse(tomli_w.dumps(order))


def test_the_plan_and_the_judge_know_no_upper_edge_but_the_ceiling() -> None:
    order = parse(text_of())
    view = RepEngine(planned(order, order.exercises[0]), STEP_S).view
    assert (view.target, view.low, view.high, view.ceiling) == (0.3, 0.3, 0.7, 0.7)
    assert view.at_least


@pytest.mark.parametrize(
    ("level", "verdict"),
    [(0.28, "weak"), (0.41, "counted"), (0.45, "counted"), (0.58, "counted"), (0.64, "over")],
)
@pytest.mark.parametrize("kind", ["hold", "selective", "paired"])
def test_all_from_the_goal_to_the_ceiling_counts(kind: str, level: float, verdict: str) -> None:
    """The goal is 40 and the ceiling 60 %MVC; a band of +/-5 would have called 45.1 and more 'over'."""
    exercise = at_least(kind)
    engine, channels = RepEngine(exercise, STEP_S), len(exercise.channels)
    other = level if kind == "paired" else 0.0
    judged = []
    for tick in range(round(12 / STEP_S)):
        now = (level, other)[:channels] if 1.0 < tick * STEP_S < 9.0 else (0.0,) * channels
        events = engine.step(Reading(now, tuple(value > 0.06 for value in now)))
        judged += [event.rep for event in events if isinstance(event, RepMade | RepMissed)]
    assert judged[0].verdict == verdict
    assert judged[0].tolerance_pct_mvc == 0.0 and judged[0].target_pct_mvc == pytest.approx(40.0)
    if verdict == "counted":
        assert judged[0].peak_pct_mvc == pytest.approx(100 * level)


@pytest.mark.parametrize("level", [0.41, 0.58])
def test_a_quick_rep_counts_above_the_goal(level: float) -> None:
    exercise = at_least("quick")
    engine = RepEngine(exercise, STEP_S)
    judged = []
    for tick in range(round(4 / STEP_S)):
        now = level if 1.0 < tick * STEP_S < 1.5 else 0.0
        events = engine.step(Reading((now,), (now > 0.06,)))
        judged += [event.rep.verdict for event in events if isinstance(event, RepMade | RepMissed)]
    assert judged == ["counted"]


@pytest.mark.parametrize("name", [name for kind in OPEN for name in fitting(kind)])
def test_every_workshop_shows_the_same_verdicts_and_keeps_what_is_made(name: str) -> None:
    kind = next(kind for kind in workshops()[name].kinds if kind in OPEN)
    exercise = replace(at_least(kind), sets=1, reps=2, rest_s=1.0, workshops=(name,))
    rules = workshops()[name].rules(exercise, 1, [], date(2026, 11, 25))
    engine, player, made = RepEngine(exercise, STEP_S), Player(2, 1), 0
    for tick in range(round(60 / STEP_S)):
        if engine.done:
            break
        seen = SessionView("exercise", tick * STEP_S, None, None, exercise, 1, name, 0.0, rep=engine.view)
        now = player.aim(seen)[: len(exercise.channels)]
        events = engine.step(Reading(now, tuple(value > 0.06 for value in now)))
        rules.step(STEP_S, engine.view, events)
        made += sum(isinstance(event, RepMade) for event in events)
    assert made == 2 == len(rules.made)


def test_the_goal_rises_within_its_bounds_and_by_the_orders_step() -> None:
    order = parse(text_of())
    exercise = order.exercises[0].model_copy(
        update={"scaling": order.exercises[0].scaling.model_copy(update={"tolerance_min_pct_mvc": 4.0, "on": True})}
    )
    target, sessions = 30.0, []
    for _ in range(30):
        reps = [
            SimpleNamespace(
                exercise_id=exercise.id, verdict="counted", target_pct_mvc=target, tolerance_pct_mvc=0.0, unseen=False
            )
        ]
        sessions.append(SimpleNamespace(reps=reps * 12, left_at={}, rests={exercise.id: exercise.rest_s}))
        asked: Any = sessions
        after = scale(exercise, asked, Restraint())
        assert after.setting.tolerance_pct_mvc == 0.0
        assert target <= after.setting.target_pct_mvc <= target + exercise.scaling.step_pct_mvc
        target = after.setting.target_pct_mvc
    assert 40.0 < target <= 45.0
    assert scale(exercise, asked, Restraint(lighten=20.0)).setting.target_pct_mvc == pytest.approx(0.8 * target)


def test_the_desk_asks_for_it_and_then_for_no_width() -> None:
    model = FormModel(Draft.of(template(TEMPLATE)))
    model.step("exercises.0.effort.asks", 1)
    assert model.value("exercises.0.effort.asks") == "at least"
    names = {field.name for field in model.fields() if field.group == "exercise 0"}
    assert not {name for name in names if name.startswith("tolerance_")}
    assert "tolerance_pct_mvc" in {field.name for field in model.fields() if field.group == "exercise 1"}
    assert any("at least" in line for line in Draft(model.draft.document, template(TEMPLATE)).difference())
    model.step("exercises.0.effort.asks", 1)
    assert model.prescription == template(TEMPLATE)


@pytest.mark.parametrize("language", LANGUAGES)
def test_its_words_are_there_and_short(language: str) -> None:
    words = Words(language)
    view = RepEngine(at_least(), STEP_S).view
    key = sentence_of(replace(view, phase="effort", readable=True, in_band=True, over=False))
    assert key == "frame.at-least" and len(words(key).split()) <= 8
    assert words.has("desk.field.asks") and words.has("desk.value.asks.at least")


def test_the_report_draws_it_up_to_the_ceiling_and_says_it(rep_of: Callable[..., RepRecord]) -> None:
    assert figures._upper_edge(rep_of(tolerance_pct_mvc=0.0), 70.0) == 70.0
    assert figures._upper_edge(rep_of(tolerance_pct_mvc=5.0), 70.0) == 40.0


@pytest.fixture
def rep_of() -> Callable[..., RepRecord]:
    def make(**changes: Any) -> RepRecord:
        usual = RepRecord("a", "hold", "kiln", 1, 1, "counted", 0.0, 5.0, 5.0, 5.0, 35.0, 38.0, 0.9, 90.0, 35.0, 5.0)
        return replace(usual, **changes)

    return make


def test_the_report_says_it(tmp_path: Path, rep_of: Callable[..., RepRecord]) -> None:
    order, began = parse(text_of()), datetime.fromisoformat("2026-11-25T10:00:00+01:00")
    with Journal.open(tmp_path / "journal.sqlite") as journal:
        session = journal.begin_session(SessionStart("HB-0042", 1, "ble", began.isoformat(), "Europe/Prague"))
        journal.add(session, rep_of(exercise_id=order.exercises[0].id, tolerance_pct_mvc=0.0))
        journal.end_session(session, SessionEnd(began.isoformat(), "complete"))
        page = render_report(journal, order, now=began)
    assert "at least 30\u00a0%MVC, ceiling 70" in page
