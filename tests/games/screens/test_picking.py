"""From a stick or the downloads to the plan without dragging: by keys alone, and by pointing alone."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pygame
import pytest
from musclewood.games.home.post import Post
from musclewood.games.screens.app import App
from musclewood.games.screens.base.day import nothing_ordered
from musclewood.games.screens.village.letters import LettersPage
from musclewood.games.screens.village.picking import PickPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.profiles.exchange.folder import issue
from musclewood.profiles.exchange.places import LocalPlace
from musclewood.profiles.home.homes import Home
from musclewood.profiles.orders.prescription import dump
from musclewood.profiles.orders.templates import template
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.signature import sign

TODAY = date(2026, 11, 25)


def signed() -> bytes:
    order = template("weak-thigh-after-knee-operation").model_copy(
        update={"issued": TODAY, "review": date(2027, 1, 11), "expires": None}
    )
    return sign(dump(order).encode(), ClinicKeys(bytes(range(32))))


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Home:
    person = tmp_path / "ada"
    (person / "Downloads").mkdir(parents=True)
    (person / "Downloads" / "HB-0042-0001.prescription.toml").write_bytes(signed())
    monkeypatch.setattr(Path, "home", lambda: person)
    home = Home(tmp_path / "data")
    home.create()
    return home


@pytest.fixture
def app(home: Home, tmp_path: Path) -> Iterator[App]:
    def first(app: App) -> TodayPage:
        day = nothing_ordered(app.keep)
        day.post = Post(home, lambda: TODAY, media=[str(tmp_path / "media")])
        return TodayPage(app.around, day)

    app = App(first, home.settings_path, size=(640, 360))
    yield app
    app.close()


def until(app: App, come: Callable[[], bool]) -> None:
    limit_s = time.monotonic() + 20
    while not come():
        app.step([], 0.05)
        app.draw()
        assert time.monotonic() < limit_s, "it never came"
        time.sleep(0.005)


def by_keys(app: App, key: str) -> None:
    """Tab to it and press Enter, as somebody without a mouse does."""
    for _ in range(80):
        if app.top.focus == key:
            break
        app.step([pygame.event.Event(pygame.KEYDOWN, key=pygame.K_TAB, mod=0, unicode="\t")], 0.1)
        app.draw()
    assert app.top.focus == key
    app.step([pygame.event.Event(pygame.KEYDOWN, key=pygame.K_RETURN, mod=0, unicode="\r")], 0.1)
    app.draw()


def by_pointing(app: App, key: str) -> None:
    box = next(widget.box for widget in app.top.choices() if widget.key == key)
    at = (box.centre[0] * app.canvas.scale, box.centre[1] * app.canvas.scale)
    app.step([pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=at)], 0.1)
    app.draw()


@pytest.mark.parametrize("press", [by_keys, by_pointing])
def test_the_letter_in_the_downloads_is_four_choices_away(
    app: App, home: Home, press: Callable[[App, str], None]
) -> None:
    app.draw()
    press(app, "post")
    assert isinstance(app.top, LettersPage)
    press(app, "pick")
    page = app.top
    assert isinstance(page, PickPage)
    until(app, lambda: bool(page.entries))
    press(app, "entry:0")  # the downloads
    until(app, lambda: any(entry.kind == "letter" for entry in page.entries))
    press(app, "entry:0")
    letters = app.top
    assert isinstance(letters, LettersPage), "back on the page that says what came of it"
    until(app, lambda: letters.answer is not None)
    assert letters.answer is not None and letters.answer.asks is not None, "the ten words"
    press(app, "same")
    until(app, lambda: bool(home.patients()))


def test_back_leads_up_to_the_places_and_then_out(app: App) -> None:
    app.draw()
    by_keys(app, "post")
    by_keys(app, "pick")
    page = app.top
    assert isinstance(page, PickPage)
    until(app, lambda: bool(page.entries))
    by_keys(app, "entry:0")
    escape = pygame.event.Event(pygame.KEYDOWN, key=pygame.K_ESCAPE, mod=0, unicode="\x1b")
    assert page.folder is not None
    for _ in range(3):
        app.step([escape], 0.1)
        until(app, lambda: page.state()[3] is False)  # type: ignore[index]
    assert isinstance(app.top, LettersPage)


def test_a_stick_that_is_put_in_is_offered_on_today(app: App, home: Home, tmp_path: Path) -> None:
    today = app.top
    assert isinstance(today, TodayPage)
    post = today.day.post
    assert post is not None
    until(app, lambda: post._looking is not None and post._looking.done())
    assert post.stick is None and "Letters" in _read(today)
    stick = tmp_path / "media" / "ada" / "CLINIC"
    stick.mkdir(parents=True)
    issue(LocalPlace(stick), signed())
    until(app, lambda: post.stick == stick)
    app.draw()
    assert "Stick: fetch and send" in _read(today)
    by_keys(app, "post")
    letters = app.top
    by_keys(app, "stick")
    assert isinstance(letters, LettersPage)
    until(app, lambda: letters.answer is not None)
    assert letters.answer is not None and letters.answer.told, "said on the page, whatever came of it"


def _read(page: TodayPage) -> str:
    return " ".join(line for widget in page.shown() for line in widget.lines)
