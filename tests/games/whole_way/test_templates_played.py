"""Every template can be played to its end by somebody steady, and a day of it is the dose that its own text says."""

from __future__ import annotations

import re
from collections import Counter
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from musclewood.games.engine.players import Player
from musclewood.games.running.demonstration import short_order
from musclewood.games.running.offscreen import play_offscreen
from musclewood.games.running.setting_up import set_up
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.running.todays_plan import channels_needed, plan_for
from musclewood.profiles.journal.history import History
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template, template_names
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource

NOW = datetime(2026, 12, 3, 9, tzinfo=UTC)
STEADY = ModelPatient(effort_cv=0.04, aim_cv=0.02, fatigue_per_s=0.0)


def day_of(order: Prescription, folder: Path) -> Counter[str]:
    """Play every session of one day; counted reps by exercise."""
    made: Counter[str] = Counter()
    with Journal.open(folder / "journal.sqlite") as journal:
        for number in range(order.sessions_per_day):
            channels = channels_needed(order)
            source = SimulatedSource(STEADY, channels=channels, seed=number, envelope=True)
            player = Player(channels, number)
            now = NOW + timedelta(hours=6 * number)
            plan = plan_for(order, History(), now, practice=True)
            sitting = set_up(
                order, journal, Supply(source, player), clock=lambda now=now: now, plan=plan, by_ticks=True
            )
            play_offscreen(sitting.conductor, lambda line: None, player=player, fast=True, frame_s=0.1)
        for session in journal.sessions():
            assert session.end is not None and session.end.ending == "complete"
            reps = journal.records(session.session_id, RepRecord)
            made.update(rep.exercise_id for rep in reps if rep.verdict == "counted")
    return made


@pytest.mark.full_size
@pytest.mark.parametrize("name", template_names())
def test_a_day_of_a_template_is_its_dose(name: str, tmp_path: Path, full: bool) -> None:
    order = template(name) if full else _brief(template(name))
    made = day_of(order, tmp_path)
    for exercise in order.exercises:
        assert made[exercise.id] == order.sessions_per_day * exercise.sets * exercise.reps
    if full:
        said = re.search(r"(\d+) repetitions", order.description.dose_in_words or "")
        assert said is not None and sum(made.values()) == int(said[1])


def _brief(order: Prescription) -> Prescription:
    """One short set of each exercise, once, after a short calibration."""
    short = {"sets": 1, "reps": 2, "rest_s": 1.5, "set_rest_s": 1.5}
    exercises = [
        one.model_copy(update=short | {"hold_s": one.hold_s if one.kind == "track" else min(one.hold_s, 2.0)})
        for one in order.exercises
    ]
    calibration = order.calibration.model_copy(update={"rest_s": 2.0, "trials": 1, "trial_s": 2.0})
    return order.model_copy(
        update={"exercises": tuple(exercises), "calibration": calibration, "sessions_per_day": 1, "days": DAYS}
    )


@pytest.mark.parametrize("name", template_names())
def test_the_demonstration_has_every_exercise_of_a_named_template(name: str) -> None:
    order = short_order(NOW.date(), name)
    plan = plan_for(replace_days(order), History(), NOW, practice=True)
    assert [one.exercise_id for one in plan.exercises] == [one.id for one in order.exercises]
    assert order.exercises


def replace_days(order: Prescription) -> Prescription:
    return order.model_copy(update={"days": DAYS})
