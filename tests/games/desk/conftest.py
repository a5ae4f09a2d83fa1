"""A desk on the dummy display, worked by events alone: keys, letters, presses."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pygame
import pytest
from musclewood.games.desk.app import DeskApp
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.widgets import Widget
from musclewood.games.screens.base.page import Surroundings
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.trust.key_file import LOWEST, Hardness
from musclewood.profiles.trust.keys import ClinicKeys

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
PASSPHRASE = "four quiet hornbeam leaves"


class QuickClinic(Clinic):
    """A clinic whose key is locked as quickly as the lock allows."""

    def make_key(self, passphrase: str, hardness: Hardness = LOWEST) -> ClinicKeys:
        return super().make_key(passphrase, LOWEST)


class Hands:
    """Works the desk as a person does: events in, pictures out."""

    def __init__(self, app: DeskApp) -> None:
        self.app = app
        self.wait()

    def wait(self, frames: int = 2) -> None:
        """Some frames, and as many more as the page has announced work for."""
        for number in range(frames + 2000):
            if number >= frames and not getattr(self.app.top, "busy", False):
                return
            self.app.step([], 1 / 60)
            self.app.draw()
        raise AssertionError("the page is busy without end")

    def key(self, *keys: int, mod: int = 0) -> None:
        """Press keys, each with a frame after it."""
        for key in keys:
            self.app.step([pygame.event.Event(pygame.KEYDOWN, key=key, mod=mod, unicode="")], 1 / 60)
            self.app.step([pygame.event.Event(pygame.KEYUP, key=key, mod=mod, unicode="")], 1 / 60)
            self.wait(1)

    def type(self, text: str) -> None:
        """Letters, as a keyboard sends them: a key and a text for each."""
        for letter in text:
            down = pygame.event.Event(pygame.KEYDOWN, key=ord(letter.lower()), mod=0, unicode=letter)
            self.app.step([down, pygame.event.Event(pygame.TEXTINPUT, text=letter)], 1 / 60)
        self.wait(1)

    def tab_to(self, key: str) -> None:
        """Tab until a choice is in focus."""
        for _ in range(200):
            if self.app.top.focus == key:
                return
            self.key(pygame.K_TAB)
        raise AssertionError(f"{key} cannot be reached by Tab from {type(self.app.top).__name__}")

    def enter(self, key: str) -> None:
        self.tab_to(key)
        self.key(pygame.K_RETURN)

    def widget(self, key: str) -> Widget:
        self.app.draw()
        return next(widget for widget in self.app.top.choices() if widget.key == key)

    def scroll_to(self, key: str) -> None:
        """Turn the wheel until a choice is in sight."""
        for _ in range(60):
            self.app.draw()
            if any(widget.key == key for widget in self.app.top.choices()):
                return
            self.app.step([pygame.event.Event(pygame.MOUSEWHEEL, x=0, y=-1)], 1 / 60)
            self.wait(1)
        raise AssertionError(f"{key} never comes into sight on {type(self.app.top).__name__}")

    def press(self, key: str, across: float = 0.5, down: float = 0.5) -> None:
        """Press the mouse on a choice, at a share of its width and height."""
        box = self.widget(key).box
        at = (box.left + box.width * across, box.top + box.height * down)
        self.press_at(at)

    def press_at(self, at: tuple[float, float]) -> None:
        canvas = self.app.canvas
        pixel = tuple(round(value * canvas.scale + shift) for value, shift in zip(at, canvas.offset, strict=True))
        self.app.step([pygame.event.Event(pygame.MOUSEMOTION, pos=pixel, rel=(0, 0), buttons=(0, 0, 0))], 1 / 60)
        self.app.step([pygame.event.Event(pygame.MOUSEBUTTONDOWN, pos=pixel, button=1)], 1 / 60)
        self.wait(1)

    def choose_side(self) -> None:
        """In the form: no template has a side."""
        self.press("tab:muscles")
        self.press("muscles.0.side", across=0.95)
        assert self.app.top.model.value("muscles.0.side") == "left"

    def read_on(self) -> int:
        """On the page of the signature: to its last line. How many times it took."""
        turned = 0
        while any(widget.key == "on" for widget in self.app.top.choices()):
            self.press("on")
            turned += 1
            assert turned < 60
        return turned

    def screen(self) -> str:
        return type(self.app.top).__name__


@pytest.fixture(autouse=True)
def no_window_left() -> Iterator[None]:
    pygame.font.init()
    yield
    pygame.display.quit()


@pytest.fixture
def clinic(tmp_path: Path) -> Clinic:
    return QuickClinic(tmp_path / "desk")


@pytest.fixture
def hands(clinic: Clinic) -> Iterator[Callable[..., Hands]]:
    """Open the desk in a small window."""
    opened: list[DeskApp] = []

    def build(*, size: tuple[int, int] = (640, 360), shown: list[Path] | None = None) -> Hands:
        show = shown.append if shown is not None else (lambda path: None)
        app = DeskApp(clinic, clock=lambda: NOON, show=show, size=size)
        opened.append(app)
        return Hands(app)

    yield build
    for app in opened:
        app.close()


@pytest.fixture
def around() -> Callable[..., Surroundings]:
    def build(settings: Settings | None = None, size: tuple[int, int] = (1280, 720)) -> Surroundings:
        return Surroundings(Theme(settings or Settings()), Backdrops(size, at_once=True))

    return build


@pytest.fixture
def canvas() -> Callable[[int, int], Canvas]:
    return lambda width, height: Canvas(pygame.Surface((width, height)))
