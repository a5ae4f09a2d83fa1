"""Simulated players of every character bring a session to an honest end, in every kind of exercise."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from musclewood.games.engine.players import PLAYERS
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.session_events import SessionView
from musclewood.games.running.offscreen import play_offscreen
from musclewood.games.running.setting_up import set_up
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.running.todays_plan import channels_needed
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RepRecord
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan.dose import DayPlan, PlannedExercise, planned
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource

NOW = datetime(2026, 6, 1, 12, 0, tzinfo=UTC)
PERSON = ModelPatient(effort_cv=0.05, aim_cv=0.05)


def played(prescription, name, tmp_path, plan=None):
    """One session with this player; returns how it ended and all attempts."""
    channels = channels_needed(prescription)
    source = SimulatedSource(PERSON, channels=channels, seed=1, envelope=True)
    supply = Supply(source, PLAYERS[name](channels, 1))
    with Journal.open(tmp_path / "journal.sqlite") as journal:
        sitting = set_up(prescription, journal, supply, clock=lambda: NOW, plan=plan, by_ticks=True)
        play_offscreen(sitting.conductor, lambda line: None, player=supply.player, fast=True, frame_s=0.1)
        (session,) = journal.sessions()
        assert session.end is not None and journal.verify() == []
        return session.end.ending, journal.records(1, RepRecord), sitting.conductor.session.time_s


@pytest.mark.parametrize("name", PLAYERS)
def test_every_character_comes_to_an_end(order, name, tmp_path):
    prescription = order(sets=2, reps=3)
    ending, reps, time_s = played(prescription, name, tmp_path)
    verdicts = [rep.verdict for rep in reps]
    counted = verdicts.count("counted")
    assert counted <= 6 and len(verdicts) <= 200 and time_s < 3600.0
    if name in ("steady", "late", "shaky"):
        assert (ending, counted) == ("complete", 6)
    if name == "asleep":
        assert (ending, set(verdicts)) == ("stopped", {"weak"})
    if name == "over-keen":
        assert "not relaxed" in verdicts


@pytest.mark.parametrize("kind", ["hold", "quick", "track", "relax", "selective", "paired"])
def test_the_steady_one_can_do_every_kind(kind, tmp_path):
    found = {}
    for name in (
        "weak-thigh-after-knee-operation",
        "over-tense-neck",
        "co-contracting-hamstring",
        "shoulder-out-of-balance",
        "ankle-after-sprain",
    ):
        prescription = template(name)
        found |= {exercise.kind: (prescription, exercise) for exercise in prescription.exercises}
    prescription, exercise = found[kind]
    asked = replace(planned(prescription, exercise), sets=1, reps=2, most_attempts=6)
    settings = prescription.calibration.model_copy(update={"rest_s": 2.0, "rest_between_s": 2.0})
    short = prescription.model_copy(update={"calibration": settings})
    ending, reps, _ = played(short, "steady", tmp_path, DayPlan(NOW.date(), (asked,)))
    assert ending == "complete" and [rep.verdict for rep in reps].count("counted") == 2
    assert {rep.kind for rep in reps} == {kind}


def asked_to_be_still(name: str, seconds: float = 60.0) -> list[float]:
    """What a character does while a `relax` exercise runs, every tenth of a second."""
    rep = RepView(
        kind="relax", phase="effort", set_number=1, sets=1, rep_number=1, reps=1, made=0, hold_s=8.0, held_s=0.0,
        effort_s=0.0, left_s=0.0, activation=(0.0,), level=(0.0,), target=0.06, low=0.04, high=0.08, ceiling=0.3,
        in_band=False, over=False, quiet=True, readable=True, last_verdict=None, quiet_below=0.06,
    )  # fmt: skip
    asked = PlannedExercise("neck", "relax", "Let go", ("hide",), (0,), 1, 1, 8.0, 5.0, 5.0, 6.0, 2.0, 30.0, 6.0)
    player, done = PLAYERS[name](1, 1), []
    for tick in range(round(seconds * 10)):
        now = replace(rep, effort_s=tick / 10)
        view = SessionView("exercise", tick / 10, None, None, asked, 1, "hide", 0.0, rep=now)
        done.append(player.aim(view)[0])
    return done


@pytest.mark.parametrize("name", ["steady", "tired", "late", "asleep"])
def test_whoever_can_be_still_is_still(name):
    """The sleeper among them: their muscle does what is asked, although they do not know it."""
    assert set(asked_to_be_still(name)) == {0.0}


def test_the_others_cannot_leave_it_off():
    shaky, keen, restless = (asked_to_be_still(name) for name in ("shaky", "over-keen", "random"))
    assert max(shaky) > 0.055 and min(shaky) > 0.0
    assert min(keen[:20]) > 0.06 and set(keen[20:]) == {0.0}
    longest = max(len(run) for run in "".join("x" if effort > 0.06 else " " for effort in restless).split("x"))
    assert longest < 80
