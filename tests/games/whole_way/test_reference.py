"""A submaximal reference (%RVC) from the order to the report: it is never called a maximum, in either language.

That a submaximal reference is another thing than a maximum, and is to be named so: Besomi et al. 2020 (CEDE).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, get_args

import pytest
import tomli_w
from musclewood.games.desk.form.model import FormModel
from musclewood.games.engine.session_events import CalibrationView
from musclewood.games.engine.stages import Calibration, today_alone
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.games.screens.session.calibration import _sentence
from musclewood.profiles.errors import PrescriptionError
from musclewood.profiles.handover.columns import columns_of
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import read_ledger
from musclewood.profiles.journal.records import CalibrationRecord, RepRecord, SessionEnd, SessionStart, from_plain
from musclewood.profiles.orders.difference import difference
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.prescription import Prescription, dump, parse
from musclewood.profiles.orders.reference import name_of, published, unit_of
from musclewood.profiles.orders.tables import CalibrationOrder, Task
from musclewood.profiles.orders.templates import template, template_names
from musclewood.profiles.plan.measured import measured_of
from musclewood.profiles.report.page import render_report

BEGAN = datetime.fromisoformat("2026-11-25T10:00:00+01:00")
CHOICES = [{"reference": "task", "task": task} for task in get_args(Task)] + [
    {"reference": "comfortable", "share": share} for share in ("half", "three-quarters", "all")
]


def ordered(name: str, **calibration: Any) -> Prescription:
    order = template(name).model_dump(exclude_none=True)
    order["calibration"] |= calibration
    return parse(tomli_w.dumps(order))


def test_old_orders_mean_a_maximum_and_are_written_as_before() -> None:
    order = template("weak-thigh-after-knee-operation")
    assert unit_of(order.calibration) == "%MVC" and name_of(order.calibration) == "maximum"
    assert not published(order.calibration)
    plain = order.model_copy(update={"calibration": CalibrationOrder()})
    assert "reference =" not in dump(plain) and "share =" not in dump(plain) and parse(dump(plain)) == plain
    assert from_plain(CalibrationRecord, {"muscle": "a", "channel": 0, "at_s": 0.0, "rest_uv": 3.0, "mvc_uv": 90.0,
                                          "cv": None, "trials_uv": [90.0],
                                          "reference_uv": 90.0}).reference == "maximum"  # fmt: skip


def test_a_task_must_be_chosen() -> None:
    with pytest.raises(PrescriptionError, match=r"calibration\.task"):
        ordered("weak-thigh-after-knee-operation", reference="task")


@pytest.mark.parametrize("calibration", CHOICES)
@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_asked_for_is_said_in_the_words_of_the_task(calibration: dict[str, Any], language: str) -> None:
    order = ordered("weak-thigh-after-knee-operation", **calibration)
    assert parse(dump(order)) == order
    stage = Calibration(order.calibration, order.muscles, 0.004, today_alone)
    view = stage.view
    assert view is not None and view.reference == name_of(order.calibration)
    words = Words(language)
    for phase, contracting in (("trial", False), ("trial", True), ("done", False), ("rest", False), ("pause", False)):
        values = {name: getattr(view, name) for name in CalibrationView.__slots__} | {
            "phase": phase,
            "contracting": contracting,
        }
        said = words(_sentence(CalibrationView(**values)))
        assert not re.search(r"as hard as you can|so fest du kannst|[Mm]axim|strength|Kraft", said), said
        assert all(len(sentence.split()) <= 8 for sentence in re.split(r"[.!?]", said)), said


@pytest.mark.full_size
@pytest.mark.parametrize("name", template_names())
def test_the_report_says_rvc_and_how_well_it_repeats(
    tmp_path: Path, name: str, rep_of: Callable[..., RepRecord], full: bool
) -> None:
    """Of every template, in every language in turn; under MUSCLEWOOD_FULL=1 in each."""
    turn = template_names().index(name) % len(LANGUAGES)
    for language in LANGUAGES if full else list(LANGUAGES)[turn : turn + 1]:
        (tmp_path / language).mkdir()
        _report_says_rvc(tmp_path / language, name, language, rep_of)


def _report_says_rvc(tmp_path: Path, name: str, language: str, rep_of: Callable[..., RepRecord]) -> None:
    order = ordered(name, reference="task", task="leg-raised")
    maximal = ordered(name, reference="maximum")
    with Journal.open(tmp_path / "journal.sqlite") as journal:
        session = journal.begin_session(SessionStart(order.patient, 1, "ble", BEGAN.isoformat(), "Europe/Prague"))
        for muscle in order.muscles:
            journal.add(
                session,
                CalibrationRecord(
                    muscle.id, muscle.channel, 1.0, 4.0, 90.0, 0.05, (90.0, 91.0), 90.0, None, "task leg-raised"
                ),
            )
        for exercise in order.exercises:
            journal.add(session, rep_of(exercise_id=exercise.id, kind=exercise.kind))
        journal.end_session(session, SessionEnd(BEGAN.isoformat(), "complete"))
        page, other = (
            re.sub(r"base64,[^)\"']+", "", render_report(journal, one, now=BEGAN, language=language))
            for one in (order, maximal)
        )
    assert "%RVC" in page and "MVC" not in page
    assert "%MVC" in other and "RVC" not in other
    for published_one in published(order.calibration):
        assert published_one.source in page and published_one.source not in other


def test_what_was_measured_against_another_reference_is_not_compared(tmp_path: Path) -> None:
    order = template("weak-thigh-after-knee-operation")
    muscle = order.muscles[0]
    with Journal.open(tmp_path / "journal.sqlite") as journal:
        for day, (name, uv) in enumerate([("maximum", 300.0), ("task leg-raised", 90.0), ("task leg-raised", 95.0)]):
            began = BEGAN.replace(day=10 + day).isoformat()
            session = journal.begin_session(SessionStart(order.patient, 1, "ble", began, "Europe/Prague"))
            journal.add(session, CalibrationRecord(muscle.id, 0, 1.0, 4.0, uv, 0.05, (uv,), uv, None, name))
            journal.add(session, CalibrationRecord(muscle.id, 0, 60.0, 6.0, float("nan"), None, (), uv, "again", name))
            journal.end_session(session, SessionEnd(began, "complete"))
        sessions = read_ledger(journal).sessions
    assert [one.mvc_uv for one in measured_of(muscle.id, sessions)] == [90.0, 95.0]


def test_the_desk_offers_it_and_changes_the_unit() -> None:
    old = template("weak-thigh-after-knee-operation")
    model = FormModel(Draft.of(old))
    units = {field.unit for field in model.fields() if field.name == "target_pct_mvc"}
    assert units == {"%MVC"}
    while model.value("calibration.reference") != "comfortable":
        model.step("calibration.reference", 1)
    assert {field.unit for field in model.fields() if field.name == "target_pct_mvc"} == {"%RVC"}
    assert model.prescription is not None
    lines = difference(old, model.prescription)
    assert any("100 %" in line for line in lines) and not any("%MVC" in line for line in lines)


def test_the_hand_over_says_which_it_was() -> None:
    columns = list(columns_of("calibrations"))
    assert columns[-5:] == ["reference", "rest_scatter", "late_start_s", "late_release_s", "rest_hidden"]
    assert columns.index("reference") > columns.index("note"), "older columns keep their places"


@pytest.fixture
def rep_of() -> Callable[..., RepRecord]:
    def make(**changes: Any) -> RepRecord:
        usual: dict[str, Any] = {
            "exercise_id": "a", "kind": "hold", "workshop": "kiln", "set_number": 1, "rep_number": 1,
            "verdict": "counted",
            "onset_s": 0.0, "offset_s": 5.0, "held_s": 5.0, "in_band_s": 5.0, "mean_pct_mvc": 35.0,
            "peak_pct_mvc": 38.0,
            "steadiness": 0.9, "rise_pct_mvc_per_s": 90.0, "target_pct_mvc": 35.0, "tolerance_pct_mvc": 5.0,
        }  # fmt: skip
        return RepRecord(**{**usual, **changes})

    return make
