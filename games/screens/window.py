"""Opens the window: the launcher for a patient's home."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime
from functools import partial
from typing import TYPE_CHECKING

from musclewood.games.home.handing_over import Packing
from musclewood.games.home.one_window import Door
from musclewood.games.home.own_sensors import OwnSensors
from musclewood.games.home.post import Post
from musclewood.games.screens.ahead import load_ahead
from musclewood.games.screens.app import App
from musclewood.games.screens.base.day import day_of, nothing_ordered
from musclewood.games.screens.village.today import TodayPage
from musclewood.games.screens.village.who import WhoPage
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.prescription import Prescription

if TYPE_CHECKING:  # sources take their time to load, and Today does not wait for them
    from musclewood.games.running.sources_by_name import Supply


def open_launcher(
    prescription: Prescription | None,
    journal: Journal | None,
    supplies: Mapping[str, Callable[[], Supply]],
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

    A recording that an earlier crash cut short is mended while Today is looked at.  `sensors` are to choose from before
    a session on `ble`; without them that source is what the supplies say.  `letter` is a file of the clinic to begin
    with; `pack` puts into the outbox what was done since.
    """

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
    app.once_shown = partial(load_ahead, home.recordings)
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
