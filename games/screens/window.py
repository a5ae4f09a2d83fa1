"""Opens the window: the launcher for a patient's home, or one session that plays itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path

import pygame
from musclewood.games.engine.players import Player
from musclewood.games.engine.shelf import shelf_of
from musclewood.games.home.handing_over import Packing
from musclewood.games.home.one_window import Door
from musclewood.games.home.own_sensors import OwnSensors
from musclewood.games.home.post import Post
from musclewood.games.running.offscreen import Unattended
from musclewood.games.running.setting_up import PreparedSession
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.screens.app import App
from musclewood.games.screens.base.day import Day, day_of, nothing_ordered
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.session.session import SessionPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.games.screens.village.who import WhoPage
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.prescription import Prescription
from musclewood.signal.recordings.recording_file import mend_all

Supplies = Mapping[str, Callable[[], Supply]]

THOUGHT_S = 2.0  # so that a reader can follow what is answered
ADMIRED_S = 6.0  # what was made may be looked at for so long before the window closes by itself


def open_launcher(
    prescription: Prescription | None,
    journal: Journal | None,
    supplies: Supplies,
    home: Home,
    sensors: OwnSensors | None = None,
    letter: str | None = None,
    pack: Packing | None = None,
    door: Door | None = None,
    begin: bool = False,
) -> Post:
    """The launcher, until somebody leaves.  Without a prescription it says what to ask for.

    Returns the post, which knows whether a prescription was let in meanwhile, so that there is something new to open
    on, and whether to `begin` with it at once.

    A recording that an earlier crash cut short is mended first.  `sensors` are to choose from before a session on
    `ble`; without them that source is what the supplies say.  `letter` is a file of the clinic to begin with; `pack`
    puts into the outbox what was done since.
    """

    mend_all(home.recordings)

    post = Post(home, lambda: datetime.now().astimezone().date(), pack)

    def first(app: App) -> TodayPage:
        if prescription is None or journal is None:
            day = nothing_ordered(app.keep)
            day.post = post
            return TodayPage(app.around, day)
        day = day_of(prescription, journal, supplies, clock=lambda: datetime.now(UTC), keep=app.keep)
        day.sensors, day.post = sensors, post
        return TodayPage(app.around, day)

    app = App(first, home.settings_path, at_home=True)
    app.door = door
    if letter is not None:
        app.take_in(letter)
    if begin:
        app.go_in()
    app.ask_for_hearing()
    app.run()
    return post


def ask_who(codes: Sequence[str], home: Home) -> str:
    """Which of these patients plays; '' if the window was closed instead."""
    pages: list[WhoPage] = []

    def first(app: App) -> WhoPage:
        pages.append(WhoPage(app.around, codes))
        return pages[0]

    App(first, home.settings_path, at_home=True).run()
    return pages[0].answer


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
