"""A session in a window that plays and answers itself."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import pygame
from musclewood.games.engine.players import Player
from musclewood.games.engine.shelf import shelf_of
from musclewood.games.running.offscreen import Unattended
from musclewood.games.running.setting_up import PreparedSession
from musclewood.games.screens.app import App
from musclewood.games.screens.base.day import Day, day_of
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.session.session import SessionPage
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.prescription import Prescription

THOUGHT_S = 2.0  # so that a reader can follow what is answered
ADMIRED_S = 6.0  # what was made may be looked at for so long before the window closes by itself


def show_by_itself(
    sitting: PreparedSession,
    player: Player,
    prescription: Prescription,
    journal: Journal,
    answers: Unattended,
    folder: Path,
) -> None:
    """One session that plays and answers itself, in real time, until its end or until somebody leaves."""
    settings_path = folder / "settings.toml"
    day = day_of(prescription, journal, {}, clock=lambda: datetime.now(UTC), keep=lambda settings: None)
    shelf = shelf_of(journal, prescription.timezone, practice=True)
    play = Play(sitting.conductor, today=sitting.plan.day, seed=0, shelf=shelf, player=player)
    Showing(play, day, answers, settings_path).run()


class Showing(App):
    """One session in a window, answered by rule; whoever watches may take part or leave at any time."""

    def __init__(self, play: Play, day: Day, answers: Unattended, settings_path: Path) -> None:
        super().__init__(lambda app: SessionPage(app.around, day, play), settings_path)
        self._play, self._answers = play, answers
        self._waited_s = 0.0

    def step(self, events: Sequence[pygame.event.Event], dt_s: float) -> None:
        super().step(events, dt_s)
        self._waited_s += dt_s
        session = self._play.session
        if session.finished:
            self.leaving = self.leaving or self._waited_s > ADMIRED_S
        elif (answer := self._answers.answer(session)) is None:
            self._waited_s = 0.0
        elif self._waited_s > THOUGHT_S:
            self._play.answer(answer)
            self._waited_s = 0.0
