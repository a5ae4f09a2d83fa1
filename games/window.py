"""Opens the window: the launcher for a patient's home, or a single session that begins at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime

from musclewood.games.screens.app import App
from musclewood.games.screens.day import day_of, nothing_ordered
from musclewood.games.screens.today import TodayPage
from musclewood.games.sources_by_name import Supply
from musclewood.profiles.homes import Home
from musclewood.profiles.journal import Journal
from musclewood.profiles.prescription import Prescription

Supplies = Mapping[str, Callable[[], Supply]]


def open_launcher(prescription: Prescription | None, journal: Journal | None, supplies: Supplies, home: Home) -> None:
    """The launcher, until somebody leaves.  Without a prescription it says what to ask for."""

    def first(app: App) -> TodayPage:
        if prescription is None or journal is None:
            return TodayPage(app.around, nothing_ordered(app.keep))
        day = day_of(prescription, journal, supplies, clock=lambda: datetime.now(UTC), keep=app.keep)
        return TodayPage(app.around, day)

    App(first, home.settings_path).run()
