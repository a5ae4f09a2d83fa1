"""From the first screen to the wrap-up and home again with one device alone: keys, mouse, controller, one switch,
muscle.

Events are posted as the device posts them, down and up, and come back out of the system's queue.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pygame
import pytest
from musclewood.games.engine.players import PLAYERS
from musclewood.games.kit.deliberate import HAND_S, reading_s
from musclewood.games.kit.one_switch import AGAIN_S, LONG_S, TURN_ON_S
from musclewood.games.screens.base.page import Page
from musclewood.games.screens.session.session import SessionPage
from musclewood.games.screens.session.wrap_up import WrapUpPage
from musclewood.games.screens.village.cautions import CautionsPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.profiles.journal.records import RatingRecord, RepRecord

from tests.games.screens.test_true_words import read_to_the_end

STEP_S = 0.05
MOST_MOVES = 40


class Device:
    """Somebody who has this device and no other. Subclasses say what is posted to move on and to choose."""

    def __init__(self, village: Any) -> None:
        self.village, self.app = village, village.app
        self.app.draw()

    @property
    def focus(self) -> str:
        page: Page = self.app.top
        return page.top.focus if isinstance(page, SessionPage) else page.focus

    def post(self, kind: int, after_s: float = STEP_S, **values: Any) -> None:
        """One event through the system's queue, and the time until the next."""
        pygame.event.post(pygame.event.Event(kind, **values))
        self.app.step(pygame.event.get(), 0.0)
        self.village.run(after_s)

    def look(self) -> None:
        self.app.draw()
        self.village.run(HAND_S + 0.1)
        self.app.draw()

    def choose(self, key: str) -> None:
        """Move until `key` is looked at, then choose it."""
        self.look()
        for _ in range(MOST_MOVES):
            if self.focus == key:
                break
            self.move()
        assert self.focus == key, f"looks at {self.focus!r}, and never at {key!r}"
        self.take()

    def move(self) -> None:
        raise NotImplementedError

    def take(self) -> None:
        raise NotImplementedError

    def read(self) -> None:
        """Cautions: the pages turn by themselves, and one answer at the end says that they were read."""
        read_to_the_end(self.village)
        self.choose("next")

    def wait_for(self, *stages: str) -> None:
        for _ in range(round(90 / STEP_S)):
            page = self.app.top
            if isinstance(page, SessionPage) and page.play.view.stage in stages and not page.play.ending:
                return
            self.app.step(pygame.event.get(), STEP_S)
        raise AssertionError(f"never came to {stages}")


class Keys(Device):
    def press(self, key: int) -> None:
        self.post(pygame.KEYDOWN, key=key, mod=0)
        self.post(pygame.KEYUP, key=key, mod=0)

    def move(self) -> None:
        self.press(pygame.K_TAB)

    def take(self) -> None:
        self.press(pygame.K_RETURN)


class Controller(Device):
    """Moves by the stick's sides and by a shoulder button; chooses by the bottom button."""

    def button(self, number: int) -> None:
        self.post(pygame.JOYBUTTONDOWN, button=number, instance_id=0)
        self.post(pygame.JOYBUTTONUP, button=number, instance_id=0)

    def move(self) -> None:
        self.button(5)

    def take(self) -> None:
        self.button(0)


class Mouse(Device):
    def choose(self, key: str) -> None:
        self.look()
        box = next(widget.box for widget in self.app.top.choices() if widget.key == key)
        pos = tuple(round(part * self.app.canvas.scale) for part in box.centre)
        self.post(pygame.MOUSEMOTION, pos=pos, rel=(1, 1), buttons=(0, 0, 0))
        self.post(pygame.MOUSEBUTTONDOWN, pos=pos, button=1)
        self.post(pygame.MOUSEBUTTONUP, pos=pos, button=1)


class Switch(Device):
    """One key and nothing else, not even to say that it is the only one: it is held down for that."""

    def __init__(self, village: Any) -> None:
        super().__init__(village)
        self.hold(TURN_ON_S + 0.1)
        assert self.app.around.theme.settings.one_switch
        while isinstance(self.app.top, CautionsPage):  # what its first press chose; a way back can be chosen too
            self.choose("back")

    def hold(self, seconds: float) -> None:
        self.post(pygame.KEYDOWN, seconds, key=pygame.K_SPACE, mod=0)
        self.post(pygame.KEYUP, AGAIN_S + STEP_S, key=pygame.K_SPACE, mod=0)

    def move(self) -> None:
        self.hold(0.2)

    def take(self) -> None:
        self.hold(LONG_S + 0.1)


class Muscle(Device):
    """Short contractions move on, a long one chooses; and it does the work itself."""

    def __init__(self, village: Any) -> None:
        super().__init__(village)
        self.player = PLAYERS["steady"](1, 3)
        self.app.keep(self.app.around.theme.settings.changed(muscle_leads=True))
        village.run(0.1)
        self.rest(1.0)

    def rest(self, seconds: float) -> None:
        if self.village.source is not None:
            self.village.source.aim((0.0,))
        self.village.run(seconds)

    def look(self) -> None:
        """As long as a slow reader takes for the longest page."""
        self.app.draw()
        self.rest(reading_s(40))
        self.app.draw()

    def squeeze(self, seconds: float) -> None:
        self.village.source.aim((0.5,))
        self.village.run(seconds)
        self.rest(1.2)
        self.app.draw()

    def move(self) -> None:
        self.squeeze(0.5)

    def take(self) -> None:
        self.squeeze(1.8)
        if isinstance(self.app.top, SessionPage) and self.focus in ("again", ""):
            self.confirm()

    def confirm(self) -> None:
        """What a muscle answers about pain and effort is read back."""
        self.app.draw()
        if any(widget.key == "yes" for widget in self.app.top.choices()):
            self.choose("yes")

    def wait_for(self, *stages: str) -> None:
        for _ in range(round(90 / STEP_S)):
            page = self.app.top
            assert isinstance(page, SessionPage)
            if page.play.view.stage in stages and not page.play.ending:
                return self.rest(0.6)
            self.village.source.aim(self.player.aim(page.play.view))
            self.app.step(pygame.event.get(), STEP_S)
        raise AssertionError(f"never came to {stages}")


@pytest.mark.parametrize("device", [Keys, Mouse, Controller, Switch, Muscle])
def test_from_the_village_to_the_morning_after_and_home(
    launcher: Callable[..., Any], device: Callable[[Any], Device]
) -> None:
    village = launcher(player=device is not Muscle)
    patient, app = device(village), village.app
    patient.choose("begin")
    patient.read()
    patient.choose("ble")
    patient.choose("next")
    assert isinstance(app.top, SessionPage)
    if device is Muscle:
        patient.village.source.aim((0.0,))
        village.run(1.0)
    patient.choose("1")
    patient.wait_for("rating")
    patient.choose("2")
    patient.choose("6")
    top = app.top
    assert isinstance(top, WrapUpPage)
    assert top.ending == "complete" and len(top.made) == 2
    session = village.journal.sessions()[-1]
    verdicts = [rep.verdict for rep in village.journal.records(session.session_id, RepRecord)]
    assert verdicts.count("counted") == 2
    ratings = village.journal.records(session.session_id, RatingRecord)
    assert [(rating.what, rating.value) for rating in ratings] == [("pain", 1), ("pain", 2), ("effort", 6)]
    if device is Muscle:
        village.run(0.1)
        village.source.aim((0.0,))
        village.run(1.0)
    patient.choose("home")
    assert isinstance(app.top, TodayPage)
    assert len(village.day.shelf) == 2


def test_one_switch_stops_a_session_and_goes_on(launcher: Callable[..., Any]) -> None:
    """What a muscle must not undo, a switch may: it is a hand's deliberate act."""
    village = launcher()
    patient = Switch(village)
    for key in ("begin",):
        patient.choose(key)
    patient.read()
    for key in ("ble", "next", "0"):
        patient.choose(key)
    patient.wait_for("exercise")
    page = village.app.top
    patient.choose("stop")
    assert page.play.view.paused == "patient"
    patient.choose("go-on")
    assert page.play.view.paused is None
    patient.choose("hurts")
    patient.choose("8")
    assert isinstance(village.app.top, WrapUpPage) and village.app.top.ending == "pain"


def test_one_key_is_muscle_and_answer_in_practice(launcher: Callable[..., Any]) -> None:
    """While it stands in for a muscle it answers nothing; while something is asked it answers."""
    village = launcher(kind="keyboard")
    patient = Switch(village)
    patient.choose("begin")
    patient.read()
    patient.choose("keyboard")
    page = village.app.top
    assert isinstance(page, SessionPage)
    patient.choose("0")
    patient.wait_for("calibration")
    quiet_uv = page.play.amplitude_uv
    patient.post(pygame.KEYDOWN, 0.5, key=pygame.K_SPACE, mod=0)
    assert page.play.amplitude_uv > 10 * quiet_uv
    patient.post(pygame.KEYUP, 0.5, key=pygame.K_SPACE, mod=0)
    assert page.over is None
