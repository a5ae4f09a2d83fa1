"""Minutes that an order promises are those that a session takes, calibration, misses and breaks included."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from musclewood.games.running.demonstration import InventedPatient, InventedPlayer
from musclewood.games.running.offscreen import play_offscreen
from musclewood.games.running.setting_up import set_up
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.running.todays_plan import channels_needed, plan_for
from musclewood.profiles.journal.history import History
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.daily_dose import QUESTIONS_S, session_minutes
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template, template_names
from musclewood.signal.sources.simulated import ModelPatient, SimulatedSource

NOW = datetime(2026, 11, 26, 17, tzinfo=UTC)
SHORTEST = "over-tense-neck"


@pytest.mark.full_size
@pytest.mark.parametrize("name", template_names())
def test_minutes_are_within_a_tenth_of_what_a_session_takes(name: str, tmp_path: Path, full: bool) -> None:
    """Played to the end by somebody who misses one attempt in six; nobody is there to read, so
    no time for questions."""
    if not full and name != SHORTEST:
        pytest.skip("the long form plays every template (MUSCLEWOOD_FULL=1)")
    order = template(name).model_copy(update={"days": DAYS})
    channels = channels_needed(order)
    player = InventedPlayer(channels, 3)
    person = ModelPatient(placement_cv=0.1, sessions=8)
    with Journal.open(tmp_path / "journal.sqlite", clock=lambda: NOW) as journal:
        sitting = set_up(
            order,
            journal,
            Supply(SimulatedSource(person, channels=channels, seed=3, envelope=True), player),
            clock=lambda: NOW,
            plan=plan_for(order, History(), NOW, True),
            by_ticks=True,
        )
        answers = InventedPatient(3, 2)
        play_offscreen(sitting.conductor, lambda _: None, player=player, unattended=answers, fast=True, frame_s=0.1)
        (session,) = journal.sessions()
    assert session.end is not None and session.end.ending == "complete"
    took = (datetime.fromisoformat(session.end.ended_at) - NOW).total_seconds() / 60
    assert session_minutes(order) - QUESTIONS_S / 60 == pytest.approx(took, rel=0.10)
