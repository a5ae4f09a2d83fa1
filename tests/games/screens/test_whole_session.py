"""A session from the village: its stops, its pain, its settings, and who answers. Each device
alone: see without hands."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pygame
from musclewood.games.engine.players import PLAYERS
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.deliberate import HAND_S, reading_s
from musclewood.games.kit.settings import load
from musclewood.games.screens.base.page import Page
from musclewood.games.screens.session.overlays import OverPage
from musclewood.games.screens.session.questions import HurtsPage
from musclewood.games.screens.session.session import SessionPage
from musclewood.games.screens.session.wrap_up import WrapUpPage
from musclewood.games.screens.setup.retest import RetestPage
from musclewood.profiles.journal.records import RatingRecord

from tests.games.screens.test_true_words import read_to_the_end

Choose = Callable[..., None]


def looked_at(launcher: Any) -> Any:
    """The app, once what it asks has been in sight for longer than a double click takes."""
    launcher.app.draw()
    launcher.run(HAND_S + 0.1)
    launcher.app.draw()
    return launcher.app


def by_keyboard(launcher: Any, key: str) -> None:
    app = looked_at(launcher)
    for _ in range(40):
        if _focus(app.top) == key:
            break
        app.step([pygame.event.Event(pygame.KEYDOWN, key=pygame.K_TAB, mod=0)], 0.0)
    assert _focus(app.top) == key
    for kind in (pygame.KEYDOWN, pygame.KEYUP):
        app.step([pygame.event.Event(kind, key=pygame.K_RETURN, mod=0)], 0.0)


def by_controller(launcher: Any, key: str) -> None:
    app = looked_at(launcher)
    for _ in range(40):
        if _focus(app.top) == key:
            break
        app.step([pygame.event.Event(pygame.JOYBUTTONDOWN, button=5, instance_id=0)], 0.0)
    assert _focus(app.top) == key
    for kind in (pygame.JOYBUTTONDOWN, pygame.JOYBUTTONUP):
        app.step([pygame.event.Event(kind, button=0, instance_id=0)], 0.0)


def by_pointer(launcher: Any, key: str) -> None:
    app = looked_at(launcher)
    box = next(widget.box for widget in app.top.choices() if widget.key == key)
    at = (box.centre[0] * app.canvas.scale, box.centre[1] * app.canvas.scale)
    app.step([pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=at)], 0.0)


def _focus(page: Page) -> str:
    return page.top.focus if isinstance(page, SessionPage | RetestPage) else page.focus


def into_session(launcher: Any, choose: Choose) -> SessionPage:
    choose(launcher, "begin")
    read_cautions(launcher, choose)
    choose(launcher, "ble")
    choose(launcher, "next")
    page = launcher.app.top
    assert isinstance(page, SessionPage)
    return page


def read_cautions(launcher: Any, choose: Choose) -> None:
    """All that they say, and one answer at the end."""
    read_to_the_end(launcher)
    choose(launcher, "next")


def until(launcher: Any, stage: str, limit_s: float = 60.0) -> None:
    app = launcher.app
    for _ in range(round(limit_s / 0.05)):
        page = app.top
        if isinstance(page, SessionPage) and page.play.view.stage == stage and not page.play.ending:
            return
        app.step([], 0.05)
    raise AssertionError(f"never came to {stage}")


def test_stop_stands_still_at_once_and_can_end_it(launcher: Callable[..., Any]) -> None:
    village = launcher()
    page = into_session(village, by_keyboard)
    by_keyboard(village, "0")
    until(village, "exercise")
    village.app.answer(Intent(Act.STOP))
    assert isinstance(page.over, OverPage)
    assert page.play.view.paused == "patient"
    by_keyboard(village, "end")
    assert isinstance(village.app.top, WrapUpPage)
    assert village.app.top.ending == "stopped"


def test_stop_can_be_taken_back(launcher: Callable[..., Any]) -> None:
    village = launcher()
    page = into_session(village, by_pointer)
    by_pointer(village, "0")
    until(village, "exercise")
    by_pointer(village, "stop")
    by_pointer(village, "go-on")
    assert page.over is None
    assert page.play.view.paused is None


def test_strong_pain_ends_the_session_and_is_recorded(launcher: Callable[..., Any]) -> None:
    village = launcher()
    page = into_session(village, by_keyboard)
    by_keyboard(village, "0")
    until(village, "exercise")
    by_keyboard(village, "hurts")
    assert isinstance(page.over, HurtsPage)
    by_keyboard(village, "8")
    assert village.app.top.ending == "pain"


def test_mild_pain_pauses_and_leaves_the_choice(launcher: Callable[..., Any]) -> None:
    village = launcher()
    page = into_session(village, by_keyboard)
    by_keyboard(village, "0")
    until(village, "exercise")
    by_keyboard(village, "hurts")
    by_keyboard(village, "1")
    assert isinstance(page.over, OverPage)
    assert page.over.title == "hurts-after.title"
    by_keyboard(village, "go-on")
    assert page.play.view.paused is None


def test_a_muscle_alone_answers(launcher: Callable[..., Any]) -> None:
    """Short contractions move from peg to peg, a long one chooses, and once more says that it was meant so."""
    village = launcher(player=False)
    village.app.keep(village.app.around.theme.settings.changed(muscle_leads=True))
    page = into_session(village, by_keyboard)
    patient = Squeezer(village)
    patient.read()
    assert page.top.focus == ""
    patient.squeeze(0.5)
    assert page.top.focus == "0"
    patient.choose("1")
    session = village.journal.sessions()[-1]
    assert village.journal.records(session.session_id, RatingRecord) == []
    patient.choose("yes")
    ratings = village.journal.records(session.session_id, RatingRecord)
    assert [rating.value for rating in ratings] == [1]


class Squeezer:
    """A patient without hands: chooses by short and long contractions, and works when the session asks for it."""

    def __init__(self, village: Any) -> None:
        self.village = village
        self.app = village.app
        self.player = PLAYERS["steady"](1, 3)

    def choose(self, key: str) -> None:
        """Short contractions until `key` is looked at, then one long one, until another page or question is there."""
        self.read()
        for _ in range(20):
            self.app.draw()
            if _focus(self.app.top) == key:
                break
            self.squeeze(0.5)
        assert _focus(self.app.top) == key, f"looks at {_focus(self.app.top)!r}, not at {key!r}"
        self.squeeze(1.8)

    def read(self) -> None:
        """At rest, as long as a slow reader takes for the longest page."""
        self.app.draw()
        self.village.source.aim((0.0,))
        self.village.run(reading_s(40))
        self.app.draw()

    def squeeze(self, seconds: float) -> None:
        self.village.source.aim((0.5,))
        self.village.run(seconds)
        self.village.source.aim((0.0,))
        self.village.run(1.2)


def test_leaving_the_window_closes_the_session(launcher: Callable[..., Any]) -> None:
    village = launcher()
    page = into_session(village, by_keyboard)
    by_keyboard(village, "0")
    until(village, "exercise")
    village.app.step([pygame.event.Event(pygame.QUIT)], 0.0)
    assert village.app.leaving
    page.play.close()
    assert village.journal.sessions()[-1].end.ending == "stopped"


def test_settings_hold_at_once_and_are_kept(launcher: Callable[..., Any]) -> None:
    village = launcher()
    app = village.app
    by_keyboard(village, "settings")
    by_keyboard(village, "language")
    assert app.around.theme.words("common.stop") == "Stopp"
    by_keyboard(village, "text")
    assert app.around.theme.settings.text_scale == 1.2
    assert load(app._path) == app.around.theme.settings


def test_keys_stand_in_for_a_muscle_and_never_count(launcher: Callable[..., Any]) -> None:
    """In practice the space bar is a muscle: it works, and it answers nothing."""
    village = launcher(kind="keyboard")
    app = village.app
    by_keyboard(village, "begin")
    read_cautions(village, by_keyboard)
    by_keyboard(village, "keyboard")
    page = app.top
    assert isinstance(page, SessionPage)
    assert not page.play.muscle_chooses
    app.draw()
    for _ in range(3):
        app.step([pygame.event.Event(pygame.KEYDOWN, key=pygame.K_SPACE, mod=0)], 1.0)
        app.step([pygame.event.Event(pygame.KEYUP, key=pygame.K_SPACE, mod=0)], 1.0)
    assert page.play.view.stage == "comfort"
    by_keyboard(village, "0")
    until(village, "calibration")
    quiet_uv = page.play.amplitude_uv
    app.step([pygame.event.Event(pygame.KEYDOWN, key=pygame.K_SPACE, mod=0)], 0.05)
    village.run(0.5)
    assert page.play.amplitude_uv > 10 * quiet_uv
    app.step([pygame.event.Event(pygame.KEYUP, key=pygame.K_SPACE, mod=0)], 0.05)
    village.run(1.0)
    assert page.play.amplitude_uv < 3 * quiet_uv
    assert village.journal.sessions()[-1].practice
