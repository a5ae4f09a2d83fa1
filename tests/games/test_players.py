"""Simulated players of every character bring a session to an honest end, in every kind of exercise."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from musclewood.games.offscreen import play_offscreen
from musclewood.games.players import PLAYERS
from musclewood.games.setting_up import channels_needed, set_up
from musclewood.games.sources_by_name import Supply
from musclewood.profiles.dose import DayPlan, planned
from musclewood.profiles.journal import Journal
from musclewood.profiles.records import RepRecord
from musclewood.profiles.templates import template
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
