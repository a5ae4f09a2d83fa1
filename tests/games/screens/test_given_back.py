"""What a workshop painted is given back when it is left: its pictures name one another, and are many megabytes."""

from __future__ import annotations

import weakref
from types import SimpleNamespace
from typing import cast

from musclewood.games.gallery.gallery import a_day, states
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.screens.base.page import Surroundings
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.session.session import SessionPage
from musclewood.games.screens.session.workshop import WorkPage


def test_a_workshop_that_is_left_is_swept_away() -> None:
    around = Surroundings(Theme(Settings()), Backdrops((320, 180), at_once=True))
    working = states()["work-kiln-start"](around)
    assert isinstance(working, WorkPage)
    play = working.play
    page = SessionPage(around, a_day(), cast(Play, SimpleNamespace(view=play.view, asked="", ending=False)))
    assert isinstance(page.inner, WorkPage)
    left = weakref.ref(page.inner)
    page.inner.again = page.inner  # type: ignore[attr-defined]
    page.play.view = states()["break"](around).play.view  # type: ignore[attr-defined]
    page._follow()
    assert left() is None
