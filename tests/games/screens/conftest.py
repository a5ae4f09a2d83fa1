"""Canvases of any size, pages without a window, and a launcher on an invented order."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pygame
import pytest
from musclewood.games.engine.players import PLAYERS
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.screens.app import App
from musclewood.games.screens.base.day import Day, day_of
from musclewood.games.screens.base.page import Surroundings
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.village.today import TodayPage
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import Retest
from musclewood.signal.sources.keyboard import KeyboardSource
from musclewood.signal.sources.simulated import SimulatedSource

NOON = datetime(2026, 11, 24, 12, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def no_window_left() -> Iterator[None]:
    pygame.font.init()
    yield
    pygame.display.quit()


@pytest.fixture(scope="session")
def anywhere() -> Callable[..., Surroundings]:
    """What is round a page, for pages that serve several tests."""
    pygame.font.init()

    def build(settings: Settings | None = None, size: tuple[int, int] = (1280, 720)) -> Surroundings:
        return Surroundings(Theme(settings or Settings()), Backdrops(size, at_once=True))

    return build


@pytest.fixture
def around(anywhere: Callable[..., Surroundings]) -> Callable[..., Surroundings]:
    return anywhere


@pytest.fixture
def canvas() -> Callable[[int, int], Canvas]:
    return lambda width, height: Canvas(pygame.Surface((width, height)))


class WornSensor(SimulatedSource):
    """A model patient who counts as a patient."""

    kind = "ble"


@dataclass
class Launcher:
    """An app on the dummy display, with all that lies behind it."""

    app: App
    day: Day
    journal: Journal
    source: SimulatedSource | None = None

    def run(self, seconds: float, step_s: float = 0.05) -> None:
        for _ in range(round(seconds / step_s)):
            self.app.step([], step_s)


@pytest.fixture
def launcher(tmp_path: Path, order: Callable[..., Prescription]) -> Iterator[Callable[..., Launcher]]:
    """`launcher(worn=True)` has one source: a sensor that a steady player wears; `worn=False` leaves it to the test."""
    opened: list[Launcher] = []

    def build(*, player: bool = True, kind: str = "ble", retest: Retest | None = None) -> Launcher:
        prescription = order(trials=1, trial_s=1.0, sets=1, reps=2, hold_s=0.6, rest_s=1.0)
        prescription = prescription.model_copy(update={"retest": retest})
        journal = Journal.open(tmp_path / "journal.sqlite")
        made: Launcher

        def supply() -> Supply:
            if kind == "keyboard":
                return Supply(KeyboardSource(1))
            sort = WornSensor if kind == "ble" else SimulatedSource
            made.source = sort(channels=1, seed=3, envelope=True)
            return Supply(made.source, PLAYERS["steady"](1, 3) if player else None)

        days: list[Day] = []

        def first(app: App) -> TodayPage:
            days.append(day_of(prescription, journal, {kind: supply}, clock=lambda: NOON, keep=app.keep))
            return TodayPage(app.around, days[0])

        app = App(first, tmp_path / "settings.toml", size=(640, 360))
        made = Launcher(app, days[0], journal)
        opened.append(made)
        return made

    yield build
    for one in opened:
        one.app.close()
        one.journal.close()
